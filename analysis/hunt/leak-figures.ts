import type { AllowanceFigures, SectionLeak } from '#analysis/model/hold-result.ts'
import type { HoldSpec, System } from '#analysis/model/system.ts'
import type { Body, Coverage } from '#analysis/model/system-graph.ts'
import { stdOf } from '#analysis/numeric/estimate.ts'
import { gasConstant, standardAtmospherePa } from '#analysis/physics/ideal-gas.ts'

/**
 * Gas flow per liquid flow through the same leak path, [mol/m³].
 * *Source*: laminar leak at 3.5 psig, 1 scc/min (0 °C) of air is 2.095 mL/h of avgas at 0.5 mPa·s (computed).
 */
const gasPerLiquidMolPerM3 = 7.4358389e-7 / (2.095e-6 / 3600)
/** Relative standard uncertainty of that conversion: viscosity, bore and the laminar law are assumed. */
const exchangeStd = 0.5

/** Relative repeatability of two holds of a leak: temperature, pressure reached, seating of the joint. Own figure. */
export const repeatability = 0.05

export interface LeakFigure {
  readonly molPerS: number
  readonly stdMolPerS: number
}

/** Leak of a section as a normal with the uncertainty for comparison with other holds; null without a leak. */
export function leakFigure(leak: SectionLeak): LeakFigure | null {
  const gas = leak.mol_per_s
  const estimate = gas ?? leak.mL_per_min
  if (!estimate || !Number.isFinite(estimate.high - estimate.low)) return null
  const scale = gas ? 1 : (gasPerLiquidMolPerM3 * 1e-6) / 60
  const molPerS = estimate.value * scale
  const relative = gas ? repeatability : Math.hypot(repeatability, exchangeStd)
  const std = Math.hypot(stdOf(estimate) * scale, relative * molPerS)
  return std > 0 ? { molPerS, stdMolPerS: std } : null
}

/** Allowance as a gas leak, [mol/s]; null if there is none. */
export function allowanceMolPerS(allowance: AllowanceFigures): number | null {
  const mol =
    allowance.mol_per_s ?? (allowance.mL_per_min ?? Number.NaN) * ((gasPerLiquidMolPerM3 * 1e-6) / 60)
  return Number.isFinite(mol) && mol > 0 ? mol : null
}

/**
 * Ratio of laminar leak flows at two gauge pressures, from |p² − p_b²|.
 * At the standard atmosphere. *Source*: docs/method.md section 2. *Check*: 10 psi against 5 psi is 2.2908.
 */
export function flowRatio(gaugePa: number, referencePa: number): number {
  const drive = (gauge: number): number =>
    Math.abs((standardAtmospherePa + gauge) ** 2 - standardAtmospherePa ** 2)
  return gaugePa === 0 || referencePa === 0 ? 1 : drive(gaugePa) / drive(referencePa)
}

/** Relevant leak size for a hold, [mol/s], from its allowance and the volume of its sections. */
export function allowanceOf(system: System, hold: HoldSpec): number {
  const { allow } = hold
  if (allow.kind === 'gas-leak') return allow.molPerS
  if (allow.kind === 'liquid-leak') return allow.m3PerS * gasPerLiquidMolPerM3
  const volumeM3 = system.sections
    .filter((s) => hold.sections.includes(s.id))
    .reduce((sum, s) => sum + s.volumeM3, 0)
  // Room temperature is close enough: only the scale of the prior depends on it.
  return (allow.dropPa * volumeM3) / (gasConstant * 293.15 * hold.holdS)
}

/**
 * Leaks by body. Gauges of sections that form one volume each measure its whole loss, with the same air and temperature:
 * their mean counts, with the uncertainty of one of them.
 */
export function measuredBodies(
  coverage: Coverage,
  leaks: readonly SectionLeak[],
): { body: Body; figure: LeakFigure }[] {
  return coverage.bodies.flatMap((body) => {
    const figures = leaks.filter((l) => body.sections.includes(l.section)).map(leakFigure)
    if (figures.length === 0 || figures.some((f) => f === null)) return []
    const known = figures as LeakFigure[]
    const mean = (of: (f: LeakFigure) => number): number =>
      known.reduce((sum, f) => sum + of(f), 0) / known.length
    const figure = { molPerS: mean((f) => f.molPerS), stdMolPerS: mean((f) => f.stdMolPerS) }
    return [{ body, figure }]
  })
}
