import { isTank, type Section } from '#analysis/model/system.ts'
import type { GasShape } from './gas-columns.ts'
import type { PumpUpWarmth } from './pump-up-warmth.ts'

/** How much the volume may grow with pressure. */
export interface StretchBelief {
  readonly weight: number
  /** κ of V = V₀(1 + κ·g), [1/Pa]. */
  readonly perPa: number
  readonly std: number
}

/** A family of shapes that differ in their time constant alone. */
export interface ShapeFamily {
  readonly thermometer: GasShape['thermometer']
  readonly convective: boolean
  readonly weight: number
  /** Time constants to try, ascending, [s]. */
  readonly lagsS: readonly number[]
}

/** What is believed before the hold; amplitudes are of ln(p·V), dimensionless. */
export interface GasBeliefs {
  readonly stretch: readonly StretchBelief[]
  readonly gain: readonly GainBelief[]
  readonly families: readonly ShapeFamily[]
  readonly flow: readonly FlowBelief[]
  /** Amplitude an adiabatic pump-up would have; negative for a suction. */
  readonly fullHeat: number
  /** Mean size of a creep where there is one, negative for a suction, and the belief that there is one. */
  readonly creepScale: number
  readonly creepWeight: number
  readonly creepTausS: readonly number[]
  /** Standard deviation of the drop in the stated hold time: wide. */
  readonly dropStd: number
  /** Relative standard deviation of a drop put to the stated pressure: the gauge's span and zero, the leak law. */
  readonly scaleStd: number
  /** What the fit cannot see and the leak must carry (unknown weather, unseen temperature trend), as a drop. */
  readonly unseenStd: number
}

/** How the leak's flow falls with the pressure: as (p² − p_b²)^exponent. */
export interface FlowBelief {
  readonly weight: number
  readonly exponent: number
}

/** How much more than the thermometer the gas swings: 1 for a faithful thermometer. */
export interface GainBelief {
  readonly weight: number
  readonly mean: number
  readonly std: number
}

/**
 * d ln p / d ln n of a volume V = V₀(1 + κ·g): 1 / (1 + κ·p/(1 + κ·g)).
 *
 * @param stretchPerPa κ, [1/Pa], ≥ 0
 * @param absolutePa p, [Pa]
 * @param gaugePa g, [Pa]
 * *Source* docs/method.md section 2, elastic volume. *Check* κ = 0 gives 1.
 */
export function stiffnessOf(stretchPerPa: number, absolutePa: number, gaugePa: number): number {
  return 1 / (1 + (stretchPerPa * absolutePa) / (1 + stretchPerPa * gaugePa))
}

// Unstated stretch: share of belief and κ in 1/bar. A line is most likely stiff, a sheet tank most likely not.
// The largest, 200 % per bar, halves a tank's temperature response twice over (common practice, docs/method.md section 1).
const unstatedLine: readonly (readonly [weight: number, perBar: number, relativeStd: number])[] = [
  [0.75, 0.005, 2],
  [0.05, 0.1, 0.5],
  [0.05, 0.3, 0.35],
  [0.05, 0.6, 0.25],
  [0.04, 1.0, 0.2],
  [0.03, 1.5, 0.17],
  [0.03, 2.0, 0.13],
]
const unstatedTank: readonly (readonly [weight: number, perBar: number, relativeStd: number])[] = [
  [0.22, 0.01, 1],
  [0.13, 0.1, 0.5],
  [0.14, 0.3, 0.35],
  [0.14, 0.6, 0.25],
  [0.13, 1.0, 0.2],
  [0.12, 1.5, 0.17],
  [0.12, 2.0, 0.13],
]

/** What is believed of the stretch before the hold, from the system file. */
export function stretchBeliefs(section: Section): StretchBelief[] {
  if (section.stretchPerPa !== null) {
    const perPa = Math.max(0, section.stretchPerPa)
    return [{ weight: 1, perPa, std: Math.max(0.1 * perPa, 1e-8) }]
  }
  const table = isTank(section) ? unstatedTank : unstatedLine
  return table.map(([weight, perBar, relative]) => ({
    weight,
    perPa: perBar / 1e5,
    std: (relative * perBar) / 1e5,
  }))
}

/** Stiffness at the test pressure that goes with a stretch, and its spread. */
export function stiffnessBelief(
  stretch: StretchBelief,
  testPa: number,
  testGaugePa: number,
): { mean: number; std: number; growth: number } {
  const mean = stiffnessOf(stretch.perPa, testPa, testGaugePa)
  const stiffer = stiffnessOf(Math.max(0, stretch.perPa - stretch.std), testPa, testGaugePa)
  const softer = stiffnessOf(stretch.perPa + stretch.std, testPa, testGaugePa)
  return { mean, std: (stiffer - softer) / 2, growth: 1 + stretch.perPa * testGaugePa }
}

/** A thermometer is mostly faithful; one on the outside of a fitting may read only three quarters of the swing. */
export const gainBeliefs: readonly GainBelief[] = [
  { weight: 0.5, mean: 1.0, std: 0.05 },
  { weight: 0.5, mean: 1.22, std: 0.13 },
]

/** Laminar in a fine crack, turbulent through a hole, hardly falling where the path narrows as the pressure rises. */
const flowLaws: readonly FlowBelief[] = [
  { weight: 0.6, exponent: 1 },
  { weight: 0.3, exponent: 0.5 },
  { weight: 0.1, exponent: 0 },
]
/** How far an exponent may lie from the law's. */
export const flowExponentStd = 0.3
/** A pressure that falls by less than this share of itself says nothing of the law. */
const tellingFall = 0.04

/**
 * What is believed of the leak's flow law: where the pressure falls so far in the hold that laws differ, all of them.
 *
 * @param gaugePa gauge pressure in the hold, in order of time, without the first of it
 * *Source* docs/method.md section 2: laminar (p² − p_b²), turbulent its root, choked hardly less than the pressure itself.
 */
export function flowBeliefs(gaugePa: Float64Array): readonly FlowBelief[] {
  const sorted = gaugePa.map(Math.abs).sort()
  const high = sorted[Math.floor(0.95 * sorted.length)]
  const low = sorted[Math.floor(0.05 * sorted.length)]
  return high - low > tellingFall * high ? flowLaws : [{ weight: 1, exponent: 1 }]
}

/**
 * Belief that a thermometer feels the gas and not the wall, from how far it rose while the section was pumped up:
 * gas warms by a good share of the adiabatic rise, a wall with its far larger heat capacity by next to nothing. Gas that
 * cools while it is pumped up may show little more than a wall, and the fit must say which it is.
 */
export function gasThermometerBelief({ share, seen }: PumpUpWarmth): number {
  if (seen && share < coldWall) return 0.01
  return Math.min(seen ? 0.99 : 0.8, Math.max(0.2, (share - roomWarmth) / 0.3))
}

/** Share of an adiabatic rise that a room which warms makes a wall show while a tank is pumped up. Own figure. */
const roomWarmth = 0.1

/** Share of an adiabatic rise that a thermometer on a wall hardly ever shows. Own figure. */
const coldWall = 0.006

/** The ways a section and its thermometer may behave. */
export function shapeFamilies(section: Section, gasThermometer: number): ShapeFamily[] {
  const tank = isTank(section)
  // Conduction time grows with the square of the size, convection slows the growth (common practice).
  const middle = tank ? 300 : 25
  const wall = [-4, -3, -2, -1, 0, 1, 2, 3, 4].map((k) => middle * 1.6 ** k)
  // Fine enough that the likeliest step is never two away from the truth: a slow tail of the heat stands in for a lag missed.
  const gas = [1, 2, 3, 4, 5.5, 7.5, 10, 14, 19, 26, 36, 50, 70, 100]
  const wallWeight = 1 - gasThermometer
  const families: ShapeFamily[] = [
    { thermometer: 'wall', convective: false, weight: wallWeight * (tank ? 0.6 : 0.85), lagsS: wall },
    { thermometer: 'wall', convective: true, weight: wallWeight * (tank ? 0.4 : 0.15), lagsS: wall },
    { thermometer: 'gas', convective: false, weight: gasThermometer, lagsS: gas },
  ]
  // What is next to impossible is not worth its time.
  return families.filter((family) => family.weight > 0.02)
}
