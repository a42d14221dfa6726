import { factorLower, solveLower, solveUpper } from '#analysis/numeric/cholesky.ts'

/** The integrand: its prior is independent standard normal variables. */
export interface Posterior<Answer> {
  readonly dimensions: number
  /** Length of a pass's innovations: pairs of e and S, S = 0 where there is no reading. */
  readonly innovations: number
  /** Power of the likelihood. */
  readonly temperingPower: number
  /** Log-likelihood of the data, and the result at the point. */
  at(
    v: Float64Array,
    innovations: Float64Array | null,
  ): { readonly logLikelihood: number; readonly answer: Answer }
}

/** Modes closer than this many standard deviations are merged. */
export const nearby = 2.5

export interface Mode {
  readonly v: Float64Array
  readonly log: number
  readonly precision: Float64Array
}

export function logAt<Answer>(posterior: Posterior<Answer>, v: Float64Array): number {
  return evaluated(posterior, v, null).log
}

export function evaluated<Answer>(
  posterior: Posterior<Answer>,
  v: Float64Array,
  innovations: Float64Array | null,
): { readonly log: number; readonly answer: Answer } {
  const { logLikelihood, answer } = posterior.at(v, innovations)
  let log = posterior.temperingPower * logLikelihood
  for (let k = 0; k < v.length; k++) log -= 0.5 * v[k] * v[k]
  return { log: Number.isFinite(log) ? log : -1e12, answer }
}

/** Fisher scoring with Levenberg's damping: the information comes from derivatives of the innovations and their variances. */
export function climb<Answer>(
  posterior: Posterior<Answer>,
  from: Float64Array,
  known: readonly Mode[],
): Mode {
  const most = 14
  let v = from
  let here = new Float64Array(posterior.innovations)
  let there = new Float64Array(posterior.innovations)
  let { log } = evaluated(posterior, v, here)
  let damping = 0.02
  let scores = scored(posterior, v, here)
  for (let step = 0; step < most; step++) {
    let gained = -1
    for (let tried = 0; tried < 6 && gained < 0; tried++) {
      const way = solved(scores, damping)
      const longest = way.reduce((most, each) => Math.max(most, Math.abs(each)), 0)
      const cut = longest > 1.5 ? 1.5 / longest : 1
      const next = v.map((each, k) => each + cut * way[k])
      const found = evaluated(posterior, next, there).log
      if (found > log) {
        gained = found - log
        v = next
        log = found
        ;[here, there] = [there, here]
        damping = Math.max(0.005, damping * 0.4)
      } else damping = Math.max(0.1, damping * 5)
    }
    // Converging to a known mode.
    const reached = { v, log, precision: scores.information }
    if (gained < 0 || known.some((mode) => mode.log > log && distance(mode, reached) < 0.6 * nearby)) break
    scores = scored(posterior, v, here)
    if (gained < 0.3) break
  }
  return { v, log, precision: scores.information }
}

function scored<Answer>(posterior: Posterior<Answer>, v: Float64Array, here: Float64Array) {
  const { dimensions: size, innovations: length, temperingPower } = posterior
  const step = 1e-3
  const moved = new Float64Array(length)
  const slopes = new Float64Array(size * length)
  const gradient = v.map((each) => -each)
  for (let k = 0; k < size; k++) {
    const aside = v.slice()
    aside[k] += step
    posterior.at(aside, moved)
    for (let i = 0; i < length; i += 2) {
      const spread = here[i + 1]
      if (!(spread > 0)) continue
      const ofError = (moved[i] - here[i]) / step
      const ofSpread = (moved[i + 1] - spread) / step / spread
      const error = here[i]
      gradient[k] -=
        0.5 * temperingPower * (ofSpread * (1 - (error * error) / spread) + (2 * error * ofError) / spread)
      slopes[k * length + i] = ofError / Math.sqrt(spread)
      slopes[k * length + i + 1] = ofSpread * Math.SQRT1_2
    }
  }
  const information = new Float64Array(size * size)
  for (let r = 0; r < size; r++)
    for (let c = 0; c <= r; c++) {
      let sum = 0
      for (let i = 0, a = r * length, b = c * length; i < length; i++, a++, b++) sum += slopes[a] * slopes[b]
      information[r * size + c] = temperingPower * sum + (r === c ? 1 : 0)
      information[c * size + r] = information[r * size + c]
    }
  return { gradient, information }
}

function solved({ gradient, information }: ReturnType<typeof scored>, damping: number): Float64Array {
  const size = gradient.length
  const factor = information.slice()
  for (let k = 0; k < size; k++) factor[k * size + k] *= 1 + damping
  const way = gradient.slice()
  if (!factorLower(factor, size)) return way
  solveLower(factor, size, way, way)
  return solveUpper(factor, size, way, way)
}

/** Distance between two modes in standard deviations of one. */
export function distance({ v, precision }: Mode, other: Mode): number {
  const size = v.length
  let sum = 0
  for (let r = 0; r < size; r++)
    for (let c = 0; c < size; c++) sum += (other.v[r] - v[r]) * precision[r * size + c] * (other.v[c] - v[c])
  return Math.sqrt(Math.max(0, sum))
}
