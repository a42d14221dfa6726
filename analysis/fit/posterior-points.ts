import { memoize } from '#analysis/numeric/memoize.ts'
import { normalQuantile } from '#analysis/numeric/normal-distribution.ts'
import { eigen } from '#analysis/numeric/symmetric-eigen.ts'
import { climb, distance, evaluated, logAt, type Mode, nearby, type Posterior } from './posterior-modes.ts'

/** A point of the posterior and its weight. */
export interface PosteriorPoint<Answer> {
  readonly v: Float64Array
  readonly weight: number
  readonly answer: Answer
}

export interface PosteriorPoints<Answer> {
  readonly points: readonly PosteriorPoint<Answer>[]
  /** The best mode found. */
  readonly best: Float64Array
  /** Effective sample size; for a design, from its own weights. */
  readonly effective: number
}

/** Points of each round of importance sampling. */
const rounds = [100, 110, 120]
/** Maximum extra rounds of the last size, and the effective sample size at which they stop. */
const moreRounds = 2
const fewEffective = 30
/** A sample of smaller effective size is tempered. */
const leastWorth = 15
/** Degrees of freedom of the proposals: tails heavier than the posterior's. */
const freedom = 5
/** Share of every later round drawn from the first proposal, so that adaptation cannot lose a mode. */
const defensive = 0.25
const widened = 1.1
/** A mode this much less likely than the best is left out. */
const negligible = 8

/** A split t distribution on the axes of a mode. */
interface Proposal {
  readonly centre: Float64Array
  /** Axes as columns of a D × D matrix, and the scale of the density in both directions along each. */
  readonly axes: Float64Array
  readonly up: Float64Array
  readonly down: Float64Array
  readonly logExtent: number
  readonly share: number
}

/**
 * Points that represent a posterior: modes by Fisher scoring, then importance sampling with fixed points, or for live looks
 * a central composite design, which takes two fifths of the time.
 *
 * *Source* Rue, Martino & Chopin 2009 (design); Cappé et al. 2008, Owen & Zhou 2000 (adaptive sampling with deterministic-mixture
 * weights and a defensive share); all from memory.
 */
export function posteriorPoints<Answer>(
  posterior: Posterior<Answer>,
  starts: readonly (readonly Float64Array[])[],
  quick: boolean,
): PosteriorPoints<Answer> {
  const begun = starts
    .map((each) => each.map((v) => ({ v, log: logAt(posterior, v) })).sort((a, b) => b.log - a.log)[0])
    .sort((a, b) => b.log - a.log)
  const climbed: Mode[] = []
  for (const { v, log } of begun) if (log > begun[0].log - 40) climbed.push(climb(posterior, v, climbed))
  for (let tried = 0; ; tried++) {
    climbed.sort((a, b) => b.log - a.log)
    const modes = climbed.filter(
      (mode, i) =>
        mode.log > climbed[0].log - negligible &&
        climbed.slice(0, i).every((other) => distance(other, mode) > nearby),
    )
    const proposals = modes.map((mode) => proposalAt(posterior, mode))
    const found = quick ? designed(posterior, modes, proposals) : sampled(posterior, modes, proposals)
    // A point well above every mode: the climb stopped before a mode.
    if (tried === mostReturns || found.highest.log < modes[0].log + wellAbove)
      return { best: modes[0].v, points: found.points, effective: found.effective }
    climbed.push(climb(posterior, found.highest.v, []))
  }
}

/** Maximum restarts of the search, and how much more likely than the best mode a point must be. */
const mostReturns = 4
const wellAbove = 2

/** Result of a design or a sample, and its likeliest point. */
interface Found<Answer> extends Omit<PosteriorPoints<Answer>, 'best'> {
  readonly highest: { readonly v: Float64Array; readonly log: number }
}

/** The axes of a mode, and the actual scale of the density in both directions along each. */
function proposalAt<Answer>(posterior: Posterior<Answer>, { v, log, precision }: Mode): Proposal {
  const size = v.length
  const { values, vectors } = eigen(precision, size)
  const up = new Float64Array(size)
  const down = new Float64Array(size)
  let logExtent = 0
  for (let k = 0; k < size; k++) {
    const std = 1 / Math.sqrt(Math.max(0.6, values[k]))
    for (const side of [1, -1]) {
      let length = std
      for (let tried = 0; tried < 2; tried++) {
        const reach = 1.3 * length
        const fall = log - logAt(posterior, along(v, vectors, k, side * reach))
        const next = Math.min(1.4, reach / Math.sqrt(2 * Math.max(fall, 0.15)))
        const settled = next / length > 0.7 && next / length < 1.4
        length = Math.min(3 * length, Math.max(0.25 * length, next))
        if (settled) break
      }
      if (side > 0) up[k] = length
      else down[k] = length
    }
    logExtent += Math.log((up[k] + down[k]) / 2)
  }
  return { centre: v, axes: vectors, up, down, logExtent, share: 1 }
}

function along(v: Float64Array, axes: Float64Array, k: number, by: number): Float64Array {
  const size = v.length
  return v.map((each, r) => each + by * axes[r * size + k])
}

/** Star points and the corners of a two-level design about each mode. */
function designed<Answer>(
  posterior: Posterior<Answer>,
  modes: readonly Mode[],
  proposals: readonly Proposal[],
): Found<Answer> {
  const { dimensions: size } = posterior
  const radius = 1.1
  const corners = 32
  const points: { v: Float64Array; log: number; answer: Answer }[] = []
  const each = Math.log(1 / ((2 * size + corners) * radius ** 2))
  modes.forEach((mode, m) => {
    const { axes, up, down, logExtent } = proposals[m]
    const add = (z: Float64Array, share: number): void => {
      const v = mode.v.slice()
      let squares = 0
      for (let k = 0; k < size; k++) {
        squares += z[k] ** 2
        const by = z[k] * (z[k] > 0 ? up[k] : down[k])
        for (let r = 0; r < size; r++) v[r] += by * axes[r * size + k]
      }
      const { log, answer } = evaluated(posterior, v, null)
      points.push({ v, log: log + logExtent + squares / 2 + share, answer })
    }
    add(new Float64Array(size), Math.log(1 - 1 / radius ** 2))
    for (let k = 0; k < size; k++)
      for (const side of [1, -1]) {
        const z = new Float64Array(size)
        z[k] = side * radius * Math.sqrt(size)
        add(z, each)
      }
    for (let corner = 0; corner < corners; corner++)
      add(
        Float64Array.from({ length: size }, (_, k) => radius * (odd(columnBits(k) & corner) ? -1 : 1)),
        each,
      )
  })
  return weighed(
    points,
    points.map(({ log }) => log),
  )
}

/** Columns of a two-level design of 32 runs without aliased products. */
function columnBits(k: number): number {
  return k + 1 + (k >= 3 ? 1 : 0) + (k >= 6 ? 3 : 0)
}

function odd(bits: number): boolean {
  let parity = 0
  for (let rest = bits; rest > 0; rest >>= 1) parity ^= rest & 1
  return parity === 1
}

function sampled<Answer>(
  posterior: Posterior<Answer>,
  modes: readonly Mode[],
  proposals: readonly Proposal[],
): Found<Answer> {
  const { dimensions: size } = posterior
  const evidence = modes.map(({ log }, m) => log + proposals[m].logExtent)
  const most = Math.max(...evidence)
  const shares = evidence.map((log) => Math.max(0.15, Math.exp(log - most)))
  const all = shares.reduce((sum, share) => sum + share, 0)
  const first = proposals.map(
    (proposal, m): Proposal => ({
      ...proposal,
      up: proposal.up.map((length) => length * widened),
      down: proposal.down.map((length) => length * widened),
      logExtent: proposal.logExtent + size * Math.log(widened),
      share: shares[m] / all,
    }),
  )
  const drawn: { readonly proposals: readonly Proposal[]; readonly count: number }[] = []
  const points: { v: Float64Array; log: number; answer: Answer }[] = []
  const density: number[] = []
  const draw = fixedDraws(size)
  let counter = 1
  let current = first
  let logWeights: number[] = []
  let effective = 0
  for (let round = 0; round < rounds.length + moreRounds; round++) {
    const count = rounds[Math.min(round, rounds.length - 1)]
    const before = points.length
    let index = 0
    let passed = 0
    for (let i = 0; i < count; i++) {
      while (index < current.length - 1 && i >= (passed + current[index].share) * count)
        passed += current[index++].share
      const v = drawnFrom(current[index], draw(counter++))
      points.push({ v, ...evaluated(posterior, v, null) })
      density.push(0)
    }
    // Every point is weighted by the mixture of all proposals so far.
    for (let p = 0; p < before; p++) density[p] += count * densityOf(current, points[p].v)
    drawn.push({ proposals: current, count })
    for (let p = before; p < points.length; p++)
      for (const each of drawn) density[p] += each.count * densityOf(each.proposals, points[p].v)
    logWeights = points.map(({ log }, p) => log - Math.log(density[p] + 1e-300))
    if (round === 0 && highestOf(points).log > modes[0].log + wellAbove) break
    const { weight, worth } = normalized(logWeights, 1)
    effective = worth
    if (round >= rounds.length - 1 && effective >= fewEffective) break
    current = [
      ...first.map((proposal) => ({ ...proposal, share: defensive * proposal.share })),
      adapted(points, logWeights, weight, size),
    ]
  }
  return { ...weighed(points, logWeights), effective }
}

/** Weights scaled to a maximum of 1, to a power, and the effective sample size. */
function normalized(logWeights: readonly number[], power: number): { weight: number[]; worth: number } {
  const most = logWeights.reduce((a, b) => Math.max(a, b), Number.NEGATIVE_INFINITY)
  const weight = logWeights.map((log) => Math.exp(power * (log - most)))
  let sum = 0
  let squares = 0
  for (const w of weight) {
    sum += w
    squares += w * w
  }
  return { weight: weight.map((w) => w / sum), worth: (sum * sum) / squares }
}

function highestOf<Point extends { readonly log: number }>(points: readonly Point[]): Point {
  return points.reduce((a, b) => (b.log > a.log ? b : a))
}

function weighed<Answer>(
  points: readonly { readonly v: Float64Array; readonly log: number; readonly answer: Answer }[],
  logWeights: readonly number[],
): Found<Answer> {
  let { weight, worth } = normalized(logWeights, 1)
  const effective = worth
  // A sample of small effective size is tempered: its interval is then too wide, not too narrow.
  for (let power = 0.8; worth < leastWorth && power > 0.05; power *= 0.8)
    ({ weight, worth } = normalized(logWeights, power))
  return {
    points: points.map(({ v, answer }, p) => ({ v, answer, weight: weight[p] })),
    effective,
    highest: highestOf(points),
  }
}

/** The adapted proposal: mean, axes and skewness of the sample so far, weights tempered at small effective size. */
function adapted(
  points: readonly { readonly v: Float64Array }[],
  logWeights: readonly number[],
  full: readonly number[],
  size: number,
): Proposal {
  const needed = Math.min(60, 4 * size)
  let weight = full
  for (let power = 0.8; power > 0.07; power *= 0.8) {
    if (1 / weight.reduce((sum, w) => sum + w * w, 0) > needed) break
    weight = normalized(logWeights, power).weight
  }
  const mean = new Float64Array(size)
  const covariance = new Float64Array(size * size)
  points.forEach(({ v }, p) => {
    for (let k = 0; k < size; k++) mean[k] += weight[p] * v[k]
  })
  points.forEach(({ v }, p) => {
    for (let r = 0; r < size; r++)
      for (let c = 0; c <= r; c++) covariance[r * size + c] += weight[p] * (v[r] - mean[r]) * (v[c] - mean[c])
  })
  for (let r = 0; r < size; r++)
    for (let c = 0; c < r; c++) covariance[c * size + r] = covariance[r * size + c]
  const { values, vectors } = eigen(covariance, size)
  const third = new Float64Array(size)
  points.forEach(({ v }, p) => {
    for (let k = 0; k < size; k++) {
      let along = 0
      for (let r = 0; r < size; r++) along += vectors[r * size + k] * (v[r] - mean[r])
      third[k] += weight[p] * along ** 3
    }
  })
  const centre = mean.slice()
  const up = new Float64Array(size)
  const down = new Float64Array(size)
  let logExtent = 0
  for (let k = 0; k < size; k++) {
    const variance = Math.max(1e-5, values[k])
    const std = 1.2 * Math.sqrt(variance)
    const lean = 0.35 * Math.max(-0.7, Math.min(0.7, third[k] / variance ** 1.5))
    up[k] = std * (1 + lean)
    down[k] = std * (1 - lean)
    logExtent += Math.log(std)
    for (let r = 0; r < size; r++) centre[r] -= vectors[r * size + k] * 0.8 * lean * std
  }
  return { centre, axes: vectors, up, down, logExtent, share: 1 - defensive }
}

/** Density of proposals at a point, up to a common factor. */
function densityOf(proposals: readonly Proposal[], v: Float64Array): number {
  const size = v.length
  let density = 0
  for (const { centre, axes, up, down, logExtent, share } of proposals) {
    let squares = 0
    for (let k = 0; k < size; k++) {
      let along = 0
      for (let r = 0; r < size; r++) along += axes[r * size + k] * (v[r] - centre[r])
      squares += (along / (along > 0 ? up[k] : down[k])) ** 2
    }
    density += share * Math.exp(30 - logExtent - 0.5 * (freedom + size) * Math.log1p(squares / freedom))
  }
  return density
}

function drawnFrom({ centre, axes, up, down }: Proposal, { uniform, stretch }: Draw): Float64Array {
  const size = centre.length
  const v = centre.slice()
  for (let k = 0; k < size; k++) {
    // The sign with the odds of the two lengths, then half a normal.
    const share = down[k] / (up[k] + down[k])
    const below = uniform[k] < share
    const probability = below ? (0.5 * uniform[k]) / share : 0.5 + (0.5 * (uniform[k] - share)) / (1 - share)
    const by = stretch * normalQuantile(clamped(probability, 5e-4)) * (below ? down[k] : up[k])
    for (let r = 0; r < size; r++) v[r] += axes[r * size + k] * by
  }
  return v
}

function clamped(probability: number, edge: number): number {
  return Math.min(1 - edge, Math.max(edge, probability))
}

/** Quantile of χ²/ν by Wilson and Hilferty. */
function chiSquareShare(probability: number): number {
  const a = 2 / (9 * freedom)
  return Math.max(0.02, (1 - a + normalQuantile(probability) * Math.sqrt(a)) ** 3)
}

interface Draw {
  /** Of each axis. */
  readonly uniform: Float64Array
  /** Of all axes, which makes the normal a t distribution. */
  readonly stretch: number
}

/**
 * Additive recurrence by the generalized golden ratio: fixed points, well spread in many dimensions, the same for every hold.
 * *Source* Roberts 2018 (from memory).
 */
const fixedDraws = memoize((size: number) =>
  memoize((index: number): Draw => {
    const ratio = goldenRatio(size + 1)
    const uniform = new Float64Array(size + 1)
    let step = 1
    for (let k = 0; k <= size; k++) {
      step /= ratio
      const at = 0.5 + index * step
      uniform[k] = at - Math.floor(at)
    }
    return { uniform, stretch: 1 / Math.sqrt(chiSquareShare(clamped(uniform[size], 1e-3))) }
  }),
)

const goldenRatio = memoize((size: number) => {
  let ratio = 2
  for (let k = 0; k < 40; k++) ratio = (1 + ratio) ** (1 / (size + 1))
  return ratio
})
