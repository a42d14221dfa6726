import { memoize } from '#analysis/numeric/memoize.ts'
import { mixtureQuantile, type NormalMixture, prunedMixture } from '#analysis/numeric/normal-mixture.ts'
import { type GasRows, type GasShape, gasColumnsOf, place, thermometers } from './gas-columns.ts'
import { noParts, type Parts, type Solution, solveNode } from './gas-node.ts'
import { type GasBeliefs, stiffnessBelief } from './gas-priors.ts'
import { gasSetting } from './gas-setting.ts'
import { type NoiseSize, type ShapeColumns, shapeColumns } from './gas-shape.ts'
import { likeliestAtFirst, likelyShapes } from './likely-shapes.ts'
import { noiseLadder, walkUnitPerS } from './noise-ladder.ts'
import { lawVoice, stretchVoice, tempered, thermometerVoice } from './tempered.ts'

/** The leak as a mixture, and one representative solution for drawing. */
export interface GasFit {
  /** Pressure drop in the stated hold time at the stated pressure over that absolute pressure. */
  readonly drop: NormalMixture
  /** Moles lost in the stated hold time over the moles a rigid section would hold at the stated pressure. */
  readonly moles: NormalMixture
  /** Posterior median of moles over drop. */
  readonly middleMolesPerDrop: number
  readonly best: Solution
}

// Random walk of the sensor (or of gas the thermometer does not see): its size over the whole span in units of
// one block's white noise, and the belief in each.
const ladder = noiseLadder([
  [0, 0.2],
  [0.5, 0.15],
  [1.5, 0.15],
  [4, 0.15],
  [10, 0.14],
  [25, 0.11],
  [70, 0.07],
  [200, 0.03],
])

/** Shares of the corrections that may be wrong, one standard deviation; found on simulated holds (docs/validation.md). */
const heatTrust = 0.03
/** The same where the heat goes by convection, whose way depends on more than one time constant. */
const convectiveHeatTrust = 0.08
const swingTrust = 0.05
/** Part of a random walk that averaging over blocks hides from the likelihood, as a share of its size. */
const hiddenWalkShare = 2.8

/** Log-weight below the best at which an answer no longer counts. */
const negligible = 12
/** Log-weight below a top at which a search for it ends. */
const wellPast = 4
/** How many of the likeliest shapes are tried with every size of noise. */
const wellTried = 12

/**
 * Estimates the leak of a gas hold from everything after pump-up.
 *
 * Given the nuisance constants (gas-to-wall lag, what the thermometer feels, creep time, noise sizes, stretch class, flow law) the
 * model is linear with Gaussian beliefs and is solved exactly; the constants themselves are summed over, so that not
 * knowing them widens the interval. Deterministic.
 *
 * *Holds for* at least 8 rows. *Source* docs/method.md section 2; O'Hagan & Forster, Bayesian linear models.
 */
export function gasFit(rows: GasRows, beliefs: GasBeliefs): GasFit {
  const setting = gasSetting(rows, beliefs)
  const noises = noiseSizes(rows)
  const usual = noises.find((noise) => noise.whiteScale === 1 && noise.walkPerS > 0) as NoiseSize
  const linearColumns = gasColumnsOf(rows, beliefs.creepTausS)
  const walks = new Map<GasShape['thermometer'], Float64Array>()
  const columnsOf = memoize((shape: GasShape): ShapeColumns | null =>
    shapeColumns(setting, shape, linearColumns(shape), usual, walks.get(shape.thermometer) ?? null),
  )
  const nowhere = noParts()
  // The size of noise that the shape before liked best: its neighbour's top is near.
  let liked = noises[0]
  const scoreAt = (shape: GasShape, tried: readonly NoiseSize[]): number => {
    const shaped = columnsOf(shape)
    let most = Number.NEGATIVE_INFINITY
    if (shaped === null) return most
    const climb = (sizes: readonly NoiseSize[]): void => {
      for (const noise of sizes) {
        const solved = solveNode(setting, shaped, noise, 0, Number.POSITIVE_INFINITY, nowhere)
        if (solved === null) continue
        // Over the sizes of noise a likelihood has one top.
        if (solved.logWeight < most - wellPast) return
        if (solved.logWeight <= most) continue
        most = solved.logWeight
        liked = noise
      }
    }
    const start = Math.max(0, tried.indexOf(liked))
    climb(tried.slice(start))
    climb(tried.slice(0, start).reverse())
    return most
  }
  // All shapes are given the same error of the thermal model: the likelihood would take a shape of smaller corrections,
  // and so of smaller errors, for the better one.
  for (const thermometer of thermometers) {
    const likeliest = likeliestAtFirst(beliefs, thermometer, noises, scoreAt)
    if (likeliest !== null) walks.set(thermometer, (columnsOf(likeliest) as ShapeColumns).extraWalk)
  }
  const candidates = likelyShapes(beliefs, noises, scoreAt)
  const parts = noParts()
  let best: Solution | null = null
  for (const thermometer of thermometers) {
    // A size of noise that none of the likeliest shapes wants is not tried on the others.
    let wanted: readonly NoiseSize[] = noises
    const bestOfNoise = new Map<NoiseSize, number>()
    const bestOfStretch = new Map<number, number>()
    const ofThermometer = candidates.filter(({ shape }) => shape.thermometer === thermometer)
    for (const [tried, { shape, logWeight }] of ofThermometer.entries()) {
      if (tried === wellTried) {
        const least = Math.max(...bestOfNoise.values()) - 2 * negligible
        wanted = noises.filter((noise) => (bestOfNoise.get(noise) ?? least) > least)
      }
      const shaped = columnsOf(shape)
      if (shaped === null) continue
      for (const noise of wanted) {
        const cut = (bestOfStretch.get(shape.stretchPerPa) ?? Number.NEGATIVE_INFINITY) - negligible
        const solved = solveNode(setting, shaped, noise, logWeight, cut, parts)
        if (solved === null) continue
        if (best === null || solved.logWeight > best.logWeight) best = solved
        if (solved.logWeight > (bestOfNoise.get(noise) ?? Number.NEGATIVE_INFINITY))
          bestOfNoise.set(noise, solved.logWeight)
        const known = bestOfStretch.get(shape.stretchPerPa) ?? Number.NEGATIVE_INFINITY
        bestOfStretch.set(shape.stretchPerPa, Math.max(known, solved.logWeight))
      }
    }
  }
  if (best === null) throw new RangeError('the rows carry no information: no node can be solved')
  const shaped = columnsOf(best.shape) as ShapeColumns
  return mixed(parts, best, rows, beliefs, Math.hypot(beliefs.unseenStd, correctionStd(rows, shaped, best)))
}

function noiseSizes(rows: GasRows): NoiseSize[] {
  const unit = walkUnitPerS(rows.variance, rows.toS[rows.toS.length - 1] - rows.fromS[0])
  return ladder.map(({ whiteScale, walkSize, weight }) => ({
    whiteScale,
    walkPerS: walkSize * walkSize * unit,
    weight,
  }))
}

/**
 * How far the corrections made may be wrong, as a drop in the stated hold time: a share of the pump-up heat that went
 * during the last four fifths of the hold (what went earlier bends the curve too much to be taken for a leak) and of all
 * temperature changes that were followed. Every model of heat is a simplification, and what it explains away must not be
 * believed to the last digit.
 */
function correctionStd(rows: GasRows, shaped: ShapeColumns, best: Solution): number {
  const { columns } = shaped
  const c = best.coefficients()
  const n = rows.fromS.length
  let first = 0
  while (first < n - 2 && (rows.fromS[first] + rows.toS[first]) / 2 < rows.holdFromS) first++
  const early = rows.holdFromS + 0.2 * (rows.toS[n - 1] - rows.holdFromS)
  // A thermometer in the gas shows the pump-up heat itself.
  const felt = best.shape.thermometer === 'gas'
  let heat = 0
  let followed = 0
  for (let i = first + 1; i < n; i++) {
    const change = (column: number): number => c[column] * (columns[column][i] - columns[column][i - 1])
    const late = rows.toS[i] > early
    if (late) heat += change(place.heat) + change(place.slowHeat)
    if (late || !felt) followed += Math.abs(change(place.temperature) + change(place.lead))
  }
  const span = (rows.fromS[n - 1] + rows.toS[n - 1] - rows.fromS[first] - rows.toS[first]) / 2
  const trust = best.shape.convective ? convectiveHeatTrust : heatTrust
  return Math.hypot(trust * heat, swingTrust * followed) * (rows.statedHoldS / span)
}

/** Belief in each thing that a thermometer may feel. */
function thermometerBeliefs({ families }: GasBeliefs): { weight: number }[] {
  return thermometers.map((thermometer) => ({
    weight: families.reduce(
      (sum, family) => sum + (family.thermometer === thermometer ? family.weight : 0),
      0,
    ),
  }))
}

/** Turns the parts into mixtures of drop and of moles. */
function mixed(parts: Parts, best: Solution, rows: GasRows, beliefs: GasBeliefs, unseenStd: number): GasFit {
  const { logWeight } = parts
  const kind = (i: number): number => thermometers.length * parts.stretch[i] + parts.thermometer[i]
  const top = new Float64Array(thermometers.length * beliefs.stretch.length).fill(Number.NEGATIVE_INFINITY)
  for (let i = 0; i < logWeight.length; i++) top[kind(i)] = Math.max(top[kind(i)], logWeight[i])
  const kept: number[] = []
  for (let i = 0; i < logWeight.length; i++) if (logWeight[i] > top[kind(i)] - negligible) kept.push(i)
  const column = (): Float64Array => new Float64Array(kept.length)
  const thermometer = new Uint8Array(kept.length)
  const stretch = new Uint8Array(kept.length)
  const flow = new Uint8Array(kept.length)
  const weight = column()
  for (let k = 0; k < kept.length; k++) {
    const i = kept[k]
    thermometer[k] = parts.thermometer[i]
    stretch[k] = parts.stretch[i]
    flow[k] = parts.flow[i]
    weight[k] = Math.exp(Math.max(-600, logWeight[i] - best.logWeight))
  }
  const felt = tempered(weight, thermometer, thermometerBeliefs(beliefs), thermometerVoice)
  const believed = tempered(felt, flow, beliefs.flow, lawVoice)
  const softly = tempered(believed, stretch, beliefs.stretch, stretchVoice)
  const drop = { weight: believed, mean: column(), std: column() }
  const moles = { weight: softly, mean: column(), std: column() }
  const ratio = beliefs.stretch.map((belief) => {
    const { mean, std, growth } = stiffnessBelief(belief, rows.testPa, rows.testGaugePa)
    return { weight: 0, mean: growth / mean, std: (growth / mean) * (std / mean) }
  })
  const n = rows.fromS.length
  const hiddenWalk = hiddenWalkShare * (rows.statedHoldS / Math.sqrt(rows.toS[n - 1] - rows.holdFromS))
  for (let k = 0; k < kept.length; k++) {
    const i = kept[k]
    const mean = parts.drop[i]
    const variance =
      parts.variance[i] +
      unseenStd ** 2 +
      (beliefs.scaleStd * mean) ** 2 +
      hiddenWalk ** 2 * parts.walkPerS[i]
    drop.mean[k] = mean
    drop.std[k] = Math.sqrt(variance)
    const perDrop = ratio[stretch[k]]
    moles.mean[k] = mean * perDrop.mean
    moles.std[k] = Math.sqrt(variance * perDrop.mean ** 2 + (mean * perDrop.std) ** 2)
    perDrop.weight += softly[k]
  }
  const seen = ratio.filter((perDrop) => perDrop.weight > 0)
  const perDrop = {
    weight: seen.map((r) => r.weight),
    mean: seen.map((r) => r.mean),
    std: seen.map((r) => Math.max(1e-6, r.std)),
  }
  return {
    drop: prunedMixture(drop),
    moles: prunedMixture(moles),
    middleMolesPerDrop: mixtureQuantile(prunedMixture(perDrop), 0.5),
    best,
  }
}
