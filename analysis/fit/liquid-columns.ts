import { firstOrderLag } from '#analysis/numeric/first-order-lag.ts'
import type { Stroke } from './liquid-strokes.ts'

/** Averages of a liquid hold over rows of time, from the end of pump-up to the vent. */
export interface LiquidRows {
  /** Middle of each row, seconds from the recording's start, ascending. */
  readonly timeS: Float64Array
  readonly gaugePa: Float64Array
  readonly absolutePa: Float64Array
  /** Variance of each row's pressure, [Pa²]. */
  readonly variancePa2: Float64Array
  /** Null when the section has no thermometer. */
  readonly temperatureK: Float64Array | null
  /** Variance of each row's temperature from the thermometer's noise, [K²]; zero without a thermometer. */
  readonly temperatureVarianceK2: Float64Array
  /** Stated test pressure, gauge and absolute, [Pa]. */
  readonly testGaugePa: number
  readonly testPa: number
  readonly statedHoldS: number
  /** Moment from which heat and creep are counted, [s]. */
  readonly originS: number
  /** Volume of what is pressurised, [m³]. */
  readonly volumeM3: number
  /** How long it was held, [s]: what temperature hides is worth the less of a leak the longer the hold. */
  readonly heldS: number
  /**
   * Change of temperature over the hold that the thermometer could miss, [K], and change of pressure by unknown weather in
   * the stated time, [Pa], one std.
   */
  readonly unseenK: number
  readonly unseenPa: number
}

/** Unknowns of the linear model, in the order of their columns. */
export const columnIndex = {
  level: 0,
  heat: 1,
  temperature: 2,
  leak: 3,
  creep: 4,
  stroke: 5,
  lag: 6,
  slowHeat: 7,
} as const
export const unknowns = 8

/** How far the fuel lags behind the reading: a lead where the thermometer is slower than the fuel. */
export interface Lag {
  readonly lagS: number
  readonly weight: number
  /** Half the way to its neighbours, [s]. */
  readonly reachS: number
}

/**
 * Lags tried, [s]. Fuel in a line follows its wall in r²/5.8 D, 20 to 150 s with D 8e-8 m²/s; a thermometer on the outside
 * follows it in 5 to 60 s. Source: common practice
 */
export const lags: readonly Lag[] = [
  { lagS: -40, weight: 0.1, reachS: 12 },
  { lagS: -16, weight: 0.15, reachS: 10 },
  { lagS: 4, weight: 0.2, reachS: 10 },
  { lagS: 25, weight: 0.2, reachS: 12 },
  { lagS: 55, weight: 0.17, reachS: 20 },
  { lagS: 105, weight: 0.11, reachS: 30 },
  { lagS: 190, weight: 0.07, reachS: 50 },
]
/** Heat of pumping leaves the fuel in these times, thin lines and thick, [s]: r²/5.8 D for 3.5 and 6.5 mm. */
const heatS = { fast: 25, slow: 90 } as const

/**
 * What air adds to a straight measure of volume: the gas law makes p − p₀ − a (p − p₀)²/p straight in the volume, where a
 * share a of the yield at p₀ is air.
 */
export function bendOf(absolutePa: number, testPa: number): number {
  return (absolutePa - testPa) ** 2 / absolutePa
}

/** Slope of the straight measure against the pressure: what it does to noise. */
export function straightSlope(absolutePa: number, testPa: number, airShare: number): number {
  return 1 - airShare * (1 - (testPa / absolutePa) ** 2)
}

/** A first-order lag, or for a negative time the lead that undoes one. */
function lagged(timeS: Float64Array, values: Float64Array, lagS: number): Float64Array {
  const n = values.length
  const fromFirst = values.map((value) => value - values[0])
  if (lagS > 0) return firstOrderLag(timeS, fromFirst, lagS)
  return fromFirst.map((value, i) => {
    const [a, b] = [Math.max(0, i - 1), Math.min(n - 1, i + 1)]
    return value - (lagS * (values[b] - values[a])) / (timeS[b] - timeS[a])
  })
}

/** The regressors of a lag, in the order of `columnIndex`. */
export function columnsOf(
  rows: LiquidRows,
  strokes: readonly Stroke[],
  { lagS, reachS }: Lag,
): Float64Array[] {
  const { timeS, temperatureK } = rows
  const n = timeS.length
  const start = rows.originS
  const span = timeS[n - 1] - start
  const leak = new Float64Array(n)
  for (let i = 1; i < n; i++) {
    // laminar: in proportion to the gauge pressure at the moment
    const share = (rows.gaugePa[i] + rows.gaugePa[i - 1]) / (2 * rows.testGaugePa)
    leak[i] = leak[i - 1] - share * (timeS[i] - timeS[i - 1])
  }
  const creepTauS = 0.3 * span
  const none = new Float64Array(n)
  const longer = temperatureK && lagged(timeS, temperatureK, lagS + 0.5 * reachS)
  const shorter = temperatureK && lagged(timeS, temperatureK, lagS - 0.5 * reachS)
  return [
    new Float64Array(n).fill(1),
    timeS.map((t) => Math.exp(-(t - start) / heatS.fast)),
    temperatureK === null ? none : lagged(timeS, temperatureK, lagS),
    leak,
    timeS.map((t) => Math.expm1(-(t - start) / creepTauS)),
    timeS.map((t) => strokes.reduce((sum, s) => sum + (s.timeS <= t ? s.volumeM3 : 0), 0)),
    // change for each second of lag: the true lag lies between the ones tried
    longer && shorter ? longer.map((value, i) => (value - shorter[i]) / reachS) : none,
    timeS.map((t) => Math.exp(-(t - start) / heatS.slow)),
  ]
}
