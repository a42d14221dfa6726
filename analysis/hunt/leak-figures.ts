import type { AllowanceFigures, Estimate, SectionLeak } from '#analysis/model/hold-result.ts'
import type { HoldSpec, System } from '#analysis/model/system.ts'
import type { Body, Coverage } from '#analysis/model/system-graph.ts'
import { z95 } from '#analysis/numeric/normal-distribution.ts'
import { gasConstant, standardAtmospherePa } from '#analysis/physics/ideal-gas.ts'

/**
 * Gas that the path of a liquid leak would pass, per liquid, [mol/m³].
 * *Source*: laminar leak at 3.5 psig, 1 scc/min (0 °C) of air is 2.095 mL/h of avgas at 0.5 mPa·s (computed).
 */
const gasPerLiquidMolPerM3 = 7.4358389e-7 / (2.095e-6 / 3600)
/** Viscosity, bore and the laminar law are all assumed: relative standard uncertainty of that exchange. */
const exchangeStd = 0.5

/** Two holds of the same leak agree to about this, relative: temperature, pressure reached, how the joint sits. Own figure. */
export const repeatability = 0.05

export interface LeakFigure {
  readonly molPerS: number
  readonly stdMolPerS: number
}

/** Leak of a section as a normal with the uncertainty that comparing it with other holds needs; null where there is none. */
export function leakFigure(leak: SectionLeak): LeakFigure | null {
  const gas = leak.mol_per_s
  const estimate = gas ?? leak.mL_per_min
  if (!estimate || !Number.isFinite(estimate.high - estimate.low)) return null
  const scale = gas ? 1 : (gasPerLiquidMolPerM3 * 1e-6) / 60
  const molPerS = estimate.value * scale
  const relative = gas ? repeatability : Math.hypot(repeatability, exchangeStd)
  const std = Math.hypot(intervalStd(estimate.low, estimate.high) * scale, relative * molPerS)
  return std > 0 ? { molPerS, stdMolPerS: std } : null
}

export function times({ value, low, high }: Estimate, factor: number): Estimate {
  return { value: value * factor, low: low * factor, high: high * factor }
}

/** Standard uncertainty of a 95 % interval taken as normal. */
export function intervalStd(low: number, high: number): number {
  return (high - low) / (2 * z95)
}

/** Allowance as a gas leak, [mol/s]; null where it has none. */
export function allowanceMolPerS(allowance: AllowanceFigures): number | null {
  const mol =
    allowance.mol_per_s ?? (allowance.mL_per_min ?? Number.NaN) * ((gasPerLiquidMolPerM3 * 1e-6) / 60)
  return Number.isFinite(mol) && mol > 0 ? mol : null
}

/**
 * Flow through a laminar leak at one gauge pressure against that at another, |p² − p_b²| over the same.
 * At the standard atmosphere. *Source*: docs/method.md section 2. *Check*: 10 psi against 5 psi is 2.2906.
 */
export function flowRatio(gaugePa: number, referencePa: number): number {
  const drive = (gauge: number): number =>
    Math.abs((standardAtmospherePa + gauge) ** 2 - standardAtmospherePa ** 2)
  return gaugePa === 0 || referencePa === 0 ? 1 : drive(gaugePa) / drive(referencePa)
}

/** Size of leak that matters to a hold, [mol/s], from its allowance and the volume of what it names. */
export function allowanceOf(system: System, hold: HoldSpec): number {
  const { allow } = hold
  if (allow.kind === 'gas-leak') return allow.molPerS
  if (allow.kind === 'liquid-leak') return allow.m3PerS * gasPerLiquidMolPerM3
  const volumeM3 = system.sections
    .filter((s) => hold.sections.includes(s.id))
    .reduce((sum, s) => sum + s.volumeM3, 0)
  // Room temperature serves: only the scale of the prior rests on it.
  return (allow.dropPa * volumeM3) / (gasConstant * 293.15 * hold.holdS)
}

/**
 * Leaks by body. Gauges of sections that are one volume each measure the whole of its loss, with the same air and the same
 * temperature: their mean counts, and is no surer than one of them.
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
