import type { BudgetShare, BudgetSource } from '#analysis/model/hold-result.ts'
import type { GasRows, VesselRows } from './gas-rows.ts'
import { constants, coordinate, type HoldConstants } from './hold-constants.ts'
import { type HoldAnswer, holdFilter } from './hold-filter.ts'
import type { HoldBeliefs } from './hold-model.ts'

/** A variance by source. */
export type Variances = Partial<Record<BudgetSource, number>>

/** A point of the posterior with its leak estimate. */
export interface BelievedPoint {
  /** Value of every coordinate. */
  readonly u: Float64Array
  readonly answer: HoldAnswer
  readonly weight: number
  /** Moles lost over pressure lost: its mean and variance. */
  readonly growth: number
  readonly growthVariance: number
}

/** Budget source of each model constant. */
const sourceOfCoordinate: Readonly<Record<keyof typeof coordinate, BudgetSource>> = {
  gasTau: 'heat',
  slowing: 'heat',
  pumpHeat: 'heat',
  gasError: 'heat',
  thermometerTau: 'temperature',
  gasShare: 'temperature',
  gain: 'temperature',
  rough: 'temperature',
  walk: 'drift',
  creep: 'creep',
  creepTau: 'creep',
  stretch: 'compliance',
  yield: 'compliance',
  air: 'compliance',
  flow: 'flow',
}

/** Sizes of the filter's random inputs. */
const noises = {
  gauge: ['transient'],
  drift: ['walkLeast', 'walkSize'],
  heat: ['startGas', 'gasError', 'swingError'],
  temperature: [
    'startWall',
    'startRoom',
    'startRoomHeat',
    'startThermometer',
    'startFelt',
    'roomSlopePerS',
    'roomSlopeWalk',
    'roomWalk',
  ],
  vessel: ['vesselHeat', 'vesselSwing'],
} as const satisfies Partial<Record<BudgetSource, readonly (keyof HoldConstants)[]>>

/** Factor applied to a source's variance. */
const more = 1.01

/**
 * The leak's variance by its sources, as a GUM uncertainty budget.
 *
 * Each source contributes its variance times its squared sensitivity. For the filter's random parts, this is the rise of
 * the leak's variance at the posterior mode when one of them grows by a hundredth. For a constant u ~ N(0,1), it is
 * cov(u, leak)² over the points. The rest of the variance between points comes from noise: random parts.
 *
 * @param best the posterior mode
 * @param ofAmount budget of the amount lost, not of the drop
 * *Source* JCGM 100:2008 5.1.2. *Holds for* a posterior near a normal one.
 */
export function variancesBySource(
  points: readonly BelievedPoint[],
  best: Float64Array,
  rows: GasRows,
  beliefs: HoldBeliefs,
  ofAmount: boolean,
): Variances {
  const total = points.reduce((sum, { weight }) => sum + weight, 0)
  const mean = (of: (point: BelievedPoint) => number): number =>
    points.reduce((sum, point) => sum + point.weight * of(point), 0) / total
  const growth = (point: BelievedPoint): number => (ofAmount ? point.growth : 1)
  const leak = (point: BelievedPoint): number => point.answer.mean * growth(point)
  const middle = mean(leak)
  const between = mean((point) => (leak(point) - middle) ** 2)
  const out: Variances = {}
  const add = (source: BudgetSource, variance: number): void => {
    if (variance > 0) out[source] = (out[source] ?? 0) + variance
  }
  for (const [name, source] of Object.entries(sourceOfCoordinate)) {
    const k = coordinate[name as keyof typeof coordinate]
    const own = mean(({ u }) => u[k])
    add(source, mean((point) => (point.u[k] - own) * (leak(point) - middle)) ** 2)
  }
  const explained = sumOf(out)
  if (explained > between)
    for (const source of sourcesOf(out)) out[source] = ((out[source] ?? 0) * between) / explained
  const random = Math.max(0, between - explained) + mean((p) => p.answer.variance * growth(p) ** 2)
  const parts = randomParts(best, rows, beliefs)
  for (const source of sourcesOf(parts)) add(source, (random * (parts[source] ?? 0)) / sumOf(parts))
  const square = mean((point) => leak(point) ** 2)
  const squareGrowth = mean((point) => growth(point) ** 2)
  const weather = beliefs.unseenWeatherStd ** 2
  const unstated = beliefs.stretchPerPa === null ? constants.unstatedStd ** 2 : 0
  add('weather', weather * squareGrowth)
  add(
    rows.vessel === null ? 'temperature' : 'vessel',
    mean((point) => Math.max(0, point.answer.unseenStd ** 2 - weather) * growth(point) ** 2),
  )
  add('calibration', Math.max(0, beliefs.scaleStd ** 2 - unstated) * square)
  add('compliance', unstated * square)
  add(
    'heat',
    mean((point) => (constants.heatTrust * point.answer.lateHeat * growth(point)) ** 2),
  )
  if (ofAmount)
    add(
      'compliance',
      mean((point) => point.answer.mean ** 2 * point.growthVariance),
    )
  return out
}

/** Sensitivity of the filter's variance to each of its random parts. */
function randomParts(u: Float64Array, rows: GasRows, beliefs: HoldBeliefs): Variances {
  const variance = (...args: Parameters<typeof holdFilter>): number =>
    holdFilter(...args).pass(u, null).variance
  const plain = variance(rows, beliefs)
  const rise = (changed: Partial<GasRows>, of: Partial<HoldBeliefs> = {}, c?: HoldConstants): number =>
    Math.max(0, variance({ ...rows, ...changed }, { ...beliefs, ...of }, c) - plain)
  const louder = (names: readonly (keyof HoldConstants)[]): number => {
    const grown = names.map((name) => {
      const value: number | readonly number[] = constants[name]
      return [
        name,
        typeof value === 'number' ? value * Math.sqrt(more) : value.map((v) => v * Math.sqrt(more)),
      ]
    })
    return rise({}, {}, { ...constants, ...Object.fromEntries(grown) })
  }
  const scaled = (column: Float64Array): Float64Array => column.map((v) => v * more)
  const beside = (change: (vessel: VesselRows) => Partial<VesselRows>): number =>
    rows.vessel === null ? 0 : rise({ vessel: { ...rows.vessel, ...change(rows.vessel) } })
  const drift = louder(noises.drift)
  // The drift is in units of the white noise and grows with it.
  const white = Math.max(
    0,
    rise({ variance: scaled(rows.variance), weatherVariance: scaled(rows.weatherVariance) }) - drift,
  )
  const sum = (column: Float64Array): number => column.reduce((a, b) => a + b, 0)
  const barometer = rows.absolute ? 0 : Math.min(1, sum(rows.weatherVariance) / sum(rows.variance))
  return {
    gauge: white * (1 - barometer) + louder(noises.gauge),
    weather:
      white * barometer +
      beside(({ weatherStdPerS }) => ({ weatherStdPerS: weatherStdPerS * Math.sqrt(more) })),
    drift,
    heat: louder(noises.heat),
    temperature: louder(noises.temperature) + rise({ thermometerVariance: scaled(rows.thermometerVariance) }),
    creep: rise({}, { creepScale: beliefs.creepScale * Math.sqrt(more) }),
    vessel: louder(noises.vessel) + beside(({ variance }) => ({ variance: scaled(variance) })),
  }
}

/** Shares of the sum, largest first. */
export function budgetOf(variances: Variances): BudgetShare[] | null {
  const all = sumOf(variances)
  const shares = sourcesOf(variances).map((source) => ({ source, share: (variances[source] ?? 0) / all }))
  return all > 0 ? shares.filter(({ share }) => share > 0).sort((a, b) => b.share - a.share) : null
}

/** Adds the variance of later steps: a factor on the square of the width. */
export function grownBy(variances: Variances, source: BudgetSource, factor: number): Variances {
  return factor > 1
    ? { ...variances, [source]: (variances[source] ?? 0) + (factor - 1) * sumOf(variances) }
    : variances
}

function sumOf(variances: Variances): number {
  return Object.values(variances).reduce((sum, variance) => sum + variance, 0)
}

function sourcesOf(variances: Variances): BudgetSource[] {
  return Object.keys(variances) as BudgetSource[]
}
