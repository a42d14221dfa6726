import { memoize } from '#analysis/numeric/memoize.ts'
import { type GasShape, thermometers } from './gas-columns.ts'
import type { GasBeliefs } from './gas-priors.ts'
import type { NoiseSize } from './gas-shape.ts'
import { thermometerVoice } from './tempered.ts'

/** A shape with its belief. */
export interface Candidate {
  readonly shape: GasShape
  readonly logWeight: number
}

/** Noise sizes a first look takes: white noise as read, and a small, a middling and a large walk. */
const firstLook = [2, 5, 7]

/** The likeliest shape of those that begin the ladders; null where none can be solved. */
export function likeliestAtFirst(
  beliefs: GasBeliefs,
  thermometer: GasShape['thermometer'],
  noises: readonly NoiseSize[],
  scoreAt: (shape: GasShape, tried: readonly NoiseSize[]) => number,
): GasShape | null {
  const plain = noises.filter((noise) => noise.whiteScale === 1)
  const first = firstLook.map((k) => plain[k])
  const stretchPerPa = beliefs.stretch[beliefs.stretch.length >> 1].perPa
  const flowExponent = beliefs.flow[0].exponent
  let best: GasShape | null = null
  let most = Number.NEGATIVE_INFINITY
  for (const family of beliefs.families) {
    if (family.thermometer !== thermometer) continue
    for (const lagS of family.lagsS) {
      const shape = { thermometer, convective: family.convective, lagS, stretchPerPa, flowExponent }
      const score = scoreAt(shape, first)
      if (score > most) {
        most = score
        best = shape
      }
    }
  }
  return best
}

/**
 * Every shape worth solving in full, likeliest first, with its belief: the ladder of lags is made finer around the two likeliest.
 * A shape is one object, whether it is scored or handed out.
 */
export function likelyShapes(
  beliefs: GasBeliefs,
  noises: readonly NoiseSize[],
  scoreAt: (shape: GasShape, tried: readonly NoiseSize[]) => number,
): Candidate[] {
  const plain = noises.filter((noise) => noise.whiteScale === 1)
  const probes = [...new Set([0, beliefs.stretch.length >> 1])]
  const out: (Candidate & { score: number })[] = []
  const kinds = beliefs.families.flatMap(({ lagsS, ...family }) =>
    beliefs.flow.map((flow) => ({
      ...family,
      lagsS,
      flowExponent: flow.exponent,
      weight: family.weight * flow.weight,
    })),
  )
  for (const { thermometer, convective, flowExponent, weight, lagsS } of kinds) {
    const shapesAt = memoize((lagS: number): GasShape[] =>
      beliefs.stretch.map(({ perPa }) => ({
        thermometer,
        convective,
        lagS,
        stretchPerPa: perPa,
        flowExponent,
      })),
    )
    const score = (lagS: number): number => {
      const z = Math.log(lagS / middleLagS(lagsS)) / lagSpread
      return Math.max(...probes.map((probe) => scoreAt(shapesAt(lagS)[probe], plain))) - 0.5 * z * z
    }
    let lags = [...lagsS]
    let scores = lags.map(score)
    for (let round = 0; round < 2; round++) {
      const sharp = highestTops(scores).filter((top) => {
        const beside = [scores[top - 1], scores[top + 1]].filter((score) => score !== undefined)
        return Math.min(...beside) < scores[top] - resolved
      })
      const finer = sharp.flatMap((top) => {
        const from = lags[Math.max(0, top - 1)]
        const to = lags[Math.min(lags.length - 1, top + 1)]
        return [0.2, 0.4, 0.6, 0.8].map((share) => from ** (1 - share) * to ** share)
      })
      const known = new Map(lags.map((lagS, i) => [lagS, scores[i]]))
      lags = [...new Set([...lags, ...finer])].sort((a, b) => a - b)
      scores = lags.map((lagS) => known.get(lagS) ?? score(lagS))
    }
    const span = Math.log(lags[lags.length - 1] / lags[0])
    lags.forEach((lagS, i) => {
      const before = i > 0 ? Math.log(lagS / lags[i - 1]) : Math.log(lags[1] / lagS)
      const after = i + 1 < lags.length ? Math.log(lags[i + 1] / lagS) : before
      const z = Math.log(lagS / middleLagS(lagsS)) / lagSpread
      const logWeight = Math.log((weight * (before + after)) / (2 * span)) - 0.5 * z * z
      for (const [s, stretch] of beliefs.stretch.entries()) {
        out.push({
          shape: shapesAt(lagS)[s],
          logWeight: logWeight + Math.log(stretch.weight),
          score: scores[i] + Math.log((weight * (before + after)) / (2 * span)),
        })
      }
    })
  }
  const topOf = (shapes: typeof out): number => Math.max(...shapes.map(({ score }) => score))
  const most = topOf(out)
  return thermometers
    .flatMap((thermometer) => {
      const same = out.filter(({ shape }) => shape.thermometer === thermometer)
      const least = Math.max(topOf(same) - worthSolving, most - worthSolving / thermometerVoice)
      return same.filter(({ score }) => score > least)
    })
    .sort((a, b) => b.score - a.score)
}

/** Log-weight below the top at which a shape is not worth solving. */
const worthSolving = 9
/** Steps of the ladder beside a top that lose less log-weight than this are fine enough. */
const resolved = 1

/** Where the two highest tops of a series stand: between two rungs of a ladder a likelihood may rise by hundreds. */
function highestTops(scores: readonly number[]): number[] {
  const least = Number.NEGATIVE_INFINITY
  return scores
    .map((_, i) => i)
    .filter((i) => scores[i] >= (scores[i - 1] ?? least) && scores[i] > (scores[i + 1] ?? least))
    .sort((a, b) => scores[b] - scores[a])
    .slice(0, 2)
}

/** Spread of the belief in a time constant around the middle of its ladder, in ln. */
const lagSpread = 1

function middleLagS(lagsS: readonly number[]): number {
  return Math.sqrt(lagsS[0] * lagsS[lagsS.length - 1])
}
