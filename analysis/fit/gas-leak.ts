import type { AllowanceFigures, Estimate, SectionLeak } from '#analysis/model/hold-result.ts'
import type { Allowance, HoldSpec, Section, System } from '#analysis/model/system.ts'
import { mixtureQuantile, type NormalMixture } from '#analysis/numeric/normal-mixture.ts'
import { gasConstant } from '#analysis/physics/ideal-gas.ts'
import { molPerSPerScc, sccReferenceText } from '#analysis/physics/standard-flow.ts'
import { coarseStepPa } from '#analysis/signal/coarse-step.ts'
import type { GasFit } from './gas-fit.ts'
import type { GasHold } from './gas-rows.ts'
import type { Variances } from './uncertainty-budget.ts'

/** Volume that is under pressure: sections joined by open valves add up. */
export interface PressurisedVolume {
  readonly volumeM3: number
  readonly toleranceM3: number
}

/** A gas leak in the published units, and the same with the width a verdict is judged by. */
export interface GasLeak {
  readonly leak: SectionLeak
  readonly allowance: AllowanceFigures
  /** The estimate in the allowance's own unit. */
  readonly judged: Estimate
  readonly allowed: number
  /** Where the variance of the judged figure comes from. */
  variances(): Variances
}

/**
 * Puts the fitted leak into moles, standard cc and pressure drop.
 *
 * drop = λ·p_test;  moles a second = λ·n/(s·hold time) with n = p_test·V·growth/(R·T) and s the stiffness.
 *
 * @param widen factor on both half-widths of the interval, 1 or more (live looks)
 * *Uncertainty* the volume's tolerance counts as a rectangular half-width (JCGM 100:2008 4.3.7).
 */
export function gasLeak(
  fit: GasFit,
  hold: GasHold,
  system: System,
  spec: HoldSpec,
  section: Section,
  volume: PressurisedVolume,
  widen: number,
): GasLeak {
  const sign = spec.pressurePa < 0 ? -1 : 1
  const molFactor = sign * molPerSPerLog(hold, spec, volume)
  const relativeVolume = volume.toleranceM3 / volume.volumeM3 / Math.sqrt(3)
  const { toS, holdFromS } = hold.rows
  const heldS = toS[toS.length - 1] - Math.max(0, holdFromS)
  const hidden = coarseStepPa(hold.noise, heldS, spec.holdS) / hold.testPa
  const moles: NormalMixture = {
    weight: fit.moles.weight,
    mean: fit.moles.mean,
    std: fit.moles.std.map((std, i) =>
      Math.hypot(std, fit.moles.mean[i] * relativeVolume, hidden * fit.middleMolesPerDrop),
    ),
  }
  const drops: NormalMixture = { ...fit.drop, std: fit.drop.std.map((std) => Math.hypot(std, hidden)) }
  const drop = estimate(drops, sign * hold.testPa, widen)
  const molPerS = estimate(moles, molFactor, widen)
  const allowance = gasAllowance(fit, hold, system, spec, volume)
  const scc = molPerSPerScc(system.sccReferenceK)
  const reference = sccReferenceText(system.sccReferenceK)
  const leak: SectionLeak = {
    section: section.id,
    mol_per_s: molPerS,
    scc_per_min: { value: molPerS.value / scc, low: molPerS.low / scc, high: molPerS.high / scc, reference },
    drop_Pa: drop,
  }
  const byDrop = spec.allow.kind === 'drop' || spec.allow.kind === 'rise'
  return {
    leak,
    allowance,
    judged: byDrop ? drop : molPerS,
    allowed: byDrop ? allowance.drop_Pa : (allowance.mol_per_s as number),
    variances() {
      const parts = fit.variances(!byDrop)
      const steps = hidden * (byDrop ? 1 : fit.middleMolesPerDrop)
      const volumeStd = byDrop ? 0 : mixtureQuantile(fit.moles, 0.5) * relativeVolume
      return { ...parts, gauge: (parts.gauge ?? 0) + steps ** 2, volume: volumeStd ** 2 }
    },
  }
}

/** Moles a second that a rigid section loses when its pressure falls by a factor e in the stated hold time. */
function molPerSPerLog(hold: GasHold, { holdS }: HoldSpec, { volumeM3 }: PressurisedVolume): number {
  return (hold.testPa * volumeM3) / (gasConstant * hold.meanTemperatureK) / holdS
}

/** The allowance as drop and as rates: what stands between them is the fit's middle belief of volume and stiffness. */
export function gasAllowance(
  fit: GasFit,
  hold: GasHold,
  system: System,
  spec: HoldSpec,
  volume: PressurisedVolume,
): AllowanceFigures {
  // Moles a second that a pascal of drop in the hold time stands for, by the middle of what is believed.
  const molPerDrop = (fit.middleMolesPerDrop * molPerSPerLog(hold, spec, volume)) / hold.testPa
  return allowanceFigures(spec.allow, molPerDrop, molPerSPerScc(system.sccReferenceK))
}

function allowanceFigures(allow: Allowance, molPerDrop: number, scc: number): AllowanceFigures {
  if (allow.kind === 'gas-leak') {
    return { mol_per_s: allow.molPerS, scc_per_min: allow.molPerS / scc, drop_Pa: allow.molPerS / molPerDrop }
  }
  const dropPa = allow.kind === 'liquid-leak' ? Number.NaN : allow.dropPa
  const molPerS = dropPa * molPerDrop
  return { mol_per_s: molPerS, scc_per_min: molPerS / scc, drop_Pa: dropPa }
}

/** Median and 95 % interval of a mixture, scaled. */
function estimate(mixture: NormalMixture, factor: number, widen: number): Estimate {
  const value = mixtureQuantile(mixture, 0.5)
  const a = factor * (value + widen * (mixtureQuantile(mixture, 0.025) - value))
  const b = factor * (value + widen * (mixtureQuantile(mixture, 0.975) - value))
  return { value: factor * value, low: Math.min(a, b), high: Math.max(a, b) }
}
