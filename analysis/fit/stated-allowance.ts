import type { AllowanceFigures } from '#analysis/model/hold-result.ts'
import type { HoldSpec, System } from '#analysis/model/system.ts'
import { isLiquid } from '#analysis/physics/fuel-properties.ts'
import { gasConstant } from '#analysis/physics/ideal-gas.ts'
import { molPerSPerScc } from '#analysis/physics/standard-flow.ts'
import { fullLine, middleYieldPerPa } from './full-line.ts'

/** Room temperature, assumed where none was measured, [K]. */
const roomK = 293.15

/**
 * The allowance in every unit from the system file alone, for results without a fit: rigid sections at 20 °C; for a
 * liquid the prior median of its stiffness.
 *
 * leak = drop·V/(R·T·hold time); liquid: leak = drop/(dp/dV)/hold time
 *
 * *Uncertainty* of the stated volume and of an unstated stretch; with a fit, the figures come from the fit.
 */
export function statedAllowance(system: System, spec: HoldSpec): AllowanceFigures {
  const sections = system.sections.filter(({ id }) => spec.sections.includes(id))
  const volumeM3 = sections.reduce((sum, section) => sum + section.volumeM3, 0)
  const { allow, holdS } = spec
  const wet = sections.find(({ medium }) => isLiquid(medium))
  if (wet !== undefined || allow.kind === 'liquid-leak') {
    const perM3 =
      wet === undefined || !isLiquid(wet.medium)
        ? 0
        : 1 / middleYieldPerPa(fullLine(wet, wet.medium, roomK, spec.pressurePa), spec.pressurePa) / volumeM3
    const byDrop = 'dropPa' in allow ? allow.dropPa / perM3 / holdS : 0
    const m3PerS = allow.kind === 'liquid-leak' ? allow.m3PerS : byDrop
    return { mL_per_min: m3PerS * 60e6, drop_Pa: m3PerS * holdS * perM3 }
  }
  const molPerDrop = volumeM3 / (gasConstant * roomK * holdS)
  const molPerS = allow.kind === 'gas-leak' ? allow.molPerS : allow.dropPa * molPerDrop
  const drop_Pa = allow.kind === 'gas-leak' ? allow.molPerS / molPerDrop : allow.dropPa
  return { mol_per_s: molPerS, scc_per_min: molPerS / molPerSPerScc(system.sccReferenceK), drop_Pa }
}
