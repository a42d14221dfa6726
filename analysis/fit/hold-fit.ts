import { normalCdf, normalQuantile } from '#analysis/numeric/normal-distribution.ts'
import { mixtureQuantile, type NormalMixture, prunedMixture } from '#analysis/numeric/normal-mixture.ts'
import { yieldAt } from './full-line.ts'
import type { GasRows } from './gas-rows.ts'
import { constants, coordinate, coordinates } from './hold-constants.ts'
import { type HoldAnswer, type HoldPath, holdFilter, innovationsARow } from './hold-filter.ts'
import { gasThermometerStart, type HoldBeliefs, openPlaces, shapeAt, stiffnessOf } from './hold-model.ts'
import { type PosteriorPoints, posteriorPoints } from './posterior-points.ts'
import { type BelievedPoint, type Variances, variancesBySource } from './uncertainty-budget.ts'

/** The leak as a mixture, and the most likely course of the hold for drawing. */
export interface HoldFit {
  /** Pressure drop in the stated hold time at the stated pressure over that absolute pressure. */
  readonly drop: NormalMixture
  /**
   * Moles lost in the stated hold time over the moles a rigid section would hold at the stated pressure; of a full line the volume
   * lost over its volume.
   */
  readonly amount: NormalMixture
  /** Posterior median of amount over drop. */
  readonly middleAmountPerDrop: number
  readonly best: HoldPath
  /** The same with what the thermometer alone tells of the causes: to a full line the pressure is the better thermometer and hides its own changes. */
  byThermometer(): HoldPath
  /** Where the variance of the drop, or of the amount, comes from. */
  variances(ofAmount: boolean): Variances
}

/** Variance of ln p of a gauge that is not listened to. */
const deafVariance = 1e6

/** Rows kept single at the start, where a hold changes fast; later ones are merged by so many. */
const singleRows = 26
const merge = 4

/**
 * Estimates the leak of a hold from everything after pump-up.
 *
 * Given its constants the model is a Kalman filter; the constants themselves are integrated over, so that not knowing them widens
 * the interval. Deterministic.
 *
 * @param quick a design of few points for looks and rehearsals; a verdict is sampled
 * *Holds for* at least 8 rows. *Source* docs/method.md section 2.
 * @throws RangeError where the rows carry no information
 */
export function holdFit(rows: GasRows, beliefs: HoldBeliefs, quick = false): HoldFit {
  const merged = mergedRows(rows)
  const filter = holdFilter(merged, beliefs)
  const open = openPlaces(beliefs, rows.thermometer !== null)
  const full = (v: Float64Array): Float64Array => {
    const u = new Float64Array(coordinates)
    open.forEach((where, k) => {
      u[where] = v[k]
    })
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
  const points: BelievedPoint[] = []
  const best = holdFilter(rows, beliefs).smooth(full(found.best))
  return {
    ...mixed(found, full, rows, beliefs, points),
    best,
    byThermometer() {
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
    variances: (ofAmount) => variancesBySource(points, full(found.best), merged, beliefs, ofAmount),
  }
}

/** Points where the search for modes begins, in sets of which the likeliest is climbed from. */
function startsOf(open: readonly number[], beliefs: HoldBeliefs): Float64Array[][] {
  const at = (chosen: Partial<Record<keyof typeof coordinate, number>>): Float64Array => {
    const v = new Float64Array(open.length)
    for (const [name, value] of Object.entries(chosen)) {
      const k = open.indexOf(coordinate[name as keyof typeof coordinate])
      if (k >= 0) v[k] = value
    }
    return v
  }
  const from = (fixed: Partial<Record<keyof typeof coordinate, number>>): Float64Array[] => {
    const out: Float64Array[] = []
    for (const gasTau of [-0.9, 0.5])
      for (const pumpHeat of [-0.6, 1])
        for (const [rough, walk] of [
          [0, -0.5],
          [1.5, 0.5],
          [0, 1],
          [2, 2.2],
        ])
          out.push(at({ rough, walk, gasTau, pumpHeat, gasShare: -0.5, ...fixed }))
    return out
  }
  // Creep and heat that lingers look alike: the search begins from either side.
  const starts = [from({ creep: 0, slowing: 0.5 })]
  if (beliefs.creeps) starts.push(from({ creep: 1.8, slowing: -0.5 }))
  if (unstroked(beliefs)) for (const y of [-1, 1]) starts.push(from({ creep: 0, yield: y }))
  if (open.includes(coordinate.gasShare))
    starts.push(from({ creep: 0, gasShare: gasThermometerStart(beliefs) }))
  return starts
}

/** Whether no stroke tells how much a full line yields. */
function unstroked({ line }: HoldBeliefs): boolean {
  return line !== null && line.strokes.length === 0
}

/** Later rows put together: a third of the time for the same answer. */
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

/** Turns the points into mixtures of drop and of amount, and notes what each says. */
function mixed(
  found: PosteriorPoints<HoldAnswer>,
  full: (v: Float64Array) => Float64Array,
  rows: GasRows,
  beliefs: HoldBeliefs,
  noted: BelievedPoint[],
): Omit<HoldFit, 'best' | 'byThermometer' | 'variances'> {
  const { testPa, testGaugePa } = rows
  const outwards = Math.sign(beliefs.fullHeat)
  const drop = noParts()
  const amount = noParts()
  const ratio = noParts()
  for (const { v, answer, weight: share } of found.points) {
    const std = Math.sqrt(
      answer.variance +
        answer.unseenStd ** 2 +
        (beliefs.scaleStd * answer.mean) ** 2 +
        (constants.heatTrust * answer.lateHeat) ** 2,
    )
    // Gas leaks outwards: an explanation that needs it to flow in is believed by as much as it may not.
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
    noted.push({ u, answer, weight: believed, growth, growthVariance: growthSquare - growth ** 2 })
  }
  return {
    drop: prunedMixture(drop),
    amount: prunedMixture(amount),
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
 * Amounts lost for each share of pressure lost. Small bends tell an unstated stretch, which errors of the thermal model bend as well:
 * the data's word counts by a half, the belief before them for the rest.
 */
function perDropsOf(u: Float64Array, beliefs: HoldBeliefs, testPa: number, testGaugePa: number): PerDrop[] {
  const { line } = beliefs
  const perDropAt = (at: Float64Array): PerDrop => {
    if (line !== null) return { perDrop: yieldAt(at, line, constants).yieldPerPa * testPa, perDropStd: 0 }
    const { stretchPerPa } = shapeAt(at, beliefs, 1)
    const perDrop = molesPerDrop(stretchPerPa, testPa, testGaugePa)
    const softer = molesPerDrop(stretchPerPa * (1 + constants.statedStretch), testPa, testGaugePa)
    return { perDrop, perDropStd: softer - perDrop }
  }
  if (beliefs.stretchPerPa !== null) return [perDropAt(u)]
  const { stretchTempering } = constants
  return stretchQuantiles.map((z) => {
    const aside = u.slice()
    aside[coordinate.stretch] =
      stretchTempering * u[coordinate.stretch] + Math.sqrt(1 - stretchTempering ** 2) * z
    return perDropAt(aside)
  })
}

/** Middles of twenty equal shares of a standard normal belief. */
const stretchQuantiles = Array.from({ length: 20 }, (_, i) => normalQuantile((i + 0.5) / 20))

/** Moles lost over those of a rigid section, for each share of pressure lost: (1 + κg)/s. */
function molesPerDrop(stretchPerPa: number, testPa: number, testGaugePa: number): number {
  return (1 + stretchPerPa * testGaugePa) / stiffnessOf(stretchPerPa, testPa, testGaugePa)
}
