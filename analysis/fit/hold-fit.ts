import { normalCdf, normalQuantile } from '#analysis/numeric/normal-distribution.ts'
import { mixtureQuantile, type NormalMixture, prunedMixture } from '#analysis/numeric/normal-mixture.ts'
import { yieldAt } from './full-line.ts'
import type { GasRows } from './gas-rows.ts'
import { constants, coordinate, coordinates } from './hold-constants.ts'
import { type HoldAnswer, type HoldPath, holdFilter, innovationsARow } from './hold-filter.ts'
import { gasThermometerStart, type HoldBeliefs, openPlaces, stiffnessOf, stretchAt } from './hold-model.ts'
import { type PosteriorPoints, posteriorPoints } from './posterior-points.ts'
import { type BelievedPoint, type Variances, variancesBySource } from './uncertainty-budget.ts'

/** Variance of ln p that makes the filter ignore a gauge. */
const deafVariance = 1e6

/** Rows kept single at the start, where a hold changes fast; later ones are merged in groups of this many. */
const singleRows = 26
const merge = 4

/**
 * Estimates the leak of a hold from everything after pump-up.
 *
 * Given its constants the model is a Kalman filter. The constants are integrated over, so their uncertainty widens the
 * interval. Deterministic.
 *
 * @param quick a design of few points for live looks and rehearsals; a verdict uses importance sampling
 * *Holds for* at least 8 rows. *Source* docs/method.md section 2.
 * @throws RangeError where the rows carry no information
 */
export function holdFit(rows: GasRows, beliefs: HoldBeliefs, quick = false) {
  const merged = mergedRows(rows)
  const filter = holdFilter(merged, beliefs)
  const open = openPlaces(beliefs, rows.thermometer !== null)
  const full = (v: Float64Array): Float64Array => {
    const u = new Float64Array(coordinates)
    for (let k = 0; k < open.length; k++) u[open[k]] = v[k]
    return u
  }
  const found = posteriorPoints<HoldAnswer>(
    {
      dimensions: open.length,
      innovations: innovationsARow * merged.fromS.length,
      temperingPower:
        beliefs.line === null
          ? constants.temperingPower
          : constants.fullLinePower[unstroked(beliefs) ? 1 : 0],
      at(v, innovations) {
        const answer = filter.pass(full(v), innovations)
        return { logLikelihood: answer.logLikelihood, answer }
      },
    },
    startsOf(open, beliefs),
    quick,
  )
  if (!found.points.every(({ answer }) => Number.isFinite(answer.mean)))
    throw new RangeError('the rows carry no information: the filter does not run')
  const { points, ...mixtures } = mixed(found, full, rows, beliefs)
  const best = holdFilter(rows, beliefs).smooth(full(found.best))
  return {
    ...mixtures,
    best,
    /** The same with causes from the thermometer alone: in a full line the pressure is the better thermometer and would absorb its own changes. */
    byThermometer(): HoldPath {
      const deaf = { ...rows, variance: new Float64Array(rows.fromS.length).fill(deafVariance) }
      const { causes } = holdFilter(deaf, beliefs).smooth(full(found.best))
      const rest = best.response.map((read, i) => read - causes[i] + causes[0])
      const apart = rest.reduce((sum, each, i) => sum + each - best.leakLine[i], 0) / rest.length
      return {
        ...best,
        causes: causes.map((each) => each - causes[0]),
        leakLine: best.leakLine.map((each) => each + apart),
      }
    },
    /** Sources of the variance of the drop, or of the amount. */
    variances: (ofAmount: boolean): Variances =>
      variancesBySource(points, full(found.best), merged, beliefs, ofAmount),
  }
}

/** The leak as a mixture, and the most likely curve of the hold for charts. */
export type HoldFit = Readonly<ReturnType<typeof holdFit>>

/** Starting points of the mode search, in sets; the search climbs from the likeliest of each set. */
function startsOf(open: readonly number[], beliefs: HoldBeliefs): Float64Array[][] {
  type Chosen = Partial<Record<keyof typeof coordinate, number>>
  // Coordinates are numbered in the order of their names.
  const names = Object.keys(coordinate) as (keyof typeof coordinate)[]
  const at = (chosen: Chosen): Float64Array => Float64Array.from(open, (k) => chosen[names[k]] ?? 0)
  const noises = [
    { rough: 0, walk: -0.5 },
    { rough: 1.5, walk: 0.5 },
    { rough: 0, walk: 1 },
    { rough: 2, walk: 2.2 },
  ]
  const from = (fixed: Chosen): Float64Array[] =>
    [-0.9, 0.5].flatMap((gasTau) =>
      [-0.6, 1].flatMap((pumpHeat) =>
        noises.map((noise) => at({ ...noise, gasTau, pumpHeat, gasShare: -0.5, ...fixed })),
      ),
    )
  // Creep and slow heat look alike: the search starts from both.
  const starts = [from({ creep: 0, slowing: 0.5 })]
  if (beliefs.creeps) starts.push(from({ creep: 1.8, slowing: -0.5 }))
  if (unstroked(beliefs)) for (const y of [-1, 1]) starts.push(from({ creep: 0, yield: y }))
  if (open.includes(coordinate.gasShare))
    starts.push(from({ creep: 0, gasShare: gasThermometerStart(beliefs) }))
  return starts
}

/** Whether a full line has no stroke that measures its yield. */
function unstroked({ line }: HoldBeliefs): boolean {
  return line !== null && line.strokes.length === 0
}

/** Merges later rows: a third of the time for the same result. */
function mergedRows(rows: GasRows): GasRows {
  const groups: number[][] = []
  for (let i = 0; i < rows.fromS.length; ) {
    const count = i < singleRows ? 1 : Math.min(merge, rows.fromS.length - i)
    groups.push(Array.from({ length: count }, (_, k) => i + k))
    i += count
  }
  const mean = (column: Float64Array): Float64Array =>
    Float64Array.from(groups, (group) => group.reduce((sum, i) => sum + column[i], 0) / group.length)
  const varianceOf = (column: Float64Array): Float64Array =>
    Float64Array.from(groups, (group) => group.reduce((sum, i) => sum + column[i], 0) / group.length ** 2)
  const { thermometer, thermometerVariance, vessel } = rows
  const read = groups.map((group) =>
    group.filter((i) => thermometer !== null && !Number.isNaN(thermometer[i])),
  )
  const precision = read.map((group) => group.reduce((sum, i) => sum + 1 / thermometerVariance[i], 0))
  return {
    ...rows,
    fromS: Float64Array.from(groups, (group) => rows.fromS[group[0]]),
    toS: Float64Array.from(groups, (group) => rows.toS[group[group.length - 1]]),
    absolutePa: mean(rows.absolutePa),
    gaugePa: mean(rows.gaugePa),
    variance: varianceOf(rows.variance),
    weatherVariance: varianceOf(rows.weatherVariance),
    thermometer:
      thermometer &&
      Float64Array.from(read, (group, g) =>
        group.length === 0
          ? Number.NaN
          : group.reduce((sum, i) => sum + thermometer[i] / thermometerVariance[i], 0) / precision[g],
      ),
    thermometerVariance: Float64Array.from(precision, (sum) => 1 / sum),
    vessel: vessel && {
      ...vessel,
      logPressure: mean(vessel.logPressure),
      variance: varianceOf(vessel.variance),
    },
  }
}

/** Turns the points into mixtures of drop and of amount, with the result of each. */
function mixed(
  found: PosteriorPoints<HoldAnswer>,
  full: (v: Float64Array) => Float64Array,
  rows: GasRows,
  beliefs: HoldBeliefs,
) {
  const { testPa, testGaugePa } = rows
  const outwards = Math.sign(beliefs.fullHeat)
  const drop = noParts()
  const amount = noParts()
  const ratio = noParts()
  const points = found.points.map(({ v, answer, weight: share }): BelievedPoint => {
    const std = Math.sqrt(
      answer.variance +
        answer.unseenStd ** 2 +
        (beliefs.scaleStd * answer.mean) ** 2 +
        (constants.heatTrust * answer.lateHeat) ** 2,
    )
    // Gas leaks outwards: a point is weighted by its probability of outflow, plus a small prior of inflow.
    const believed =
      share * (constants.inflow + (1 - constants.inflow) * normalCdf((outwards * answer.mean) / std))
    add(drop, believed, answer.mean, std)
    const u = full(v)
    const perDrops = perDropsOf(u, beliefs, testPa, testGaugePa)
    let growth = 0
    let growthSquare = 0
    for (const { perDrop, perDropStd } of perDrops) {
      const part = believed / perDrops.length
      add(amount, part, answer.mean * perDrop, Math.hypot(std * perDrop, answer.mean * perDropStd))
      add(ratio, part, perDrop, Math.max(1e-6 * perDrop, perDropStd))
      growth += perDrop / perDrops.length
      growthSquare += (perDrop ** 2 + perDropStd ** 2) / perDrops.length
    }
    return { u, answer, weight: believed, growth, growthVariance: growthSquare - growth ** 2 }
  })
  return {
    points,
    /** Pressure drop in the stated hold time at the stated pressure over that absolute pressure. */
    drop: prunedMixture(drop),
    /**
     * Moles lost in the stated hold time over the moles in a rigid section at the stated pressure; for a full line the
     * volume lost over its volume.
     */
    amount: prunedMixture(amount),
    /** Posterior median of amount over drop. */
    middleAmountPerDrop: mixtureQuantile(prunedMixture(ratio), 0.5),
  }
}

function noParts(): { weight: number[]; mean: number[]; std: number[] } {
  return { weight: [], mean: [], std: [] }
}

function add(mixture: NormalMixture, weight: number, mean: number, std: number): void {
  mixture.weight.push(weight)
  mixture.mean.push(mean)
  mixture.std.push(std)
}

interface PerDrop {
  readonly perDrop: number
  readonly perDropStd: number
}

/**
 * Amounts lost per share of pressure lost. An unstated stretch shows only as slight curvature, like errors of the thermal
 * model. The data's estimate therefore has weight one half; the prior has the rest.
 */
function perDropsOf(u: Float64Array, beliefs: HoldBeliefs, testPa: number, testGaugePa: number): PerDrop[] {
  const { line } = beliefs
  if (line !== null) return [{ perDrop: yieldAt(u, line, constants).yieldPerPa * testPa, perDropStd: 0 }]
  const perDropAt = (stretchPerPa: number): PerDrop => {
    const perDrop = molesPerDrop(stretchPerPa, testPa, testGaugePa)
    const softer = molesPerDrop(stretchPerPa * (1 + constants.statedStretch), testPa, testGaugePa)
    return { perDrop, perDropStd: softer - perDrop }
  }
  if (beliefs.stretchPerPa !== null) return [perDropAt(beliefs.stretchPerPa)]
  const { stretchTempering } = constants
  return stretchQuantiles.map((z) => {
    const aside = stretchTempering * u[coordinate.stretch] + Math.sqrt(1 - stretchTempering ** 2) * z
    return perDropAt(stretchAt(aside, beliefs.sort))
  })
}

/** Middles of twenty equal shares of a standard normal prior. */
const stretchQuantiles = Array.from({ length: 20 }, (_, i) => normalQuantile((i + 0.5) / 20))

/** Moles lost over those of a rigid section, per share of pressure lost: (1 + κg)/s. */
function molesPerDrop(stretchPerPa: number, testPa: number, testGaugePa: number): number {
  return (1 + stretchPerPa * testGaugePa) / stiffnessOf(stretchPerPa, testPa, testGaugePa)
}
