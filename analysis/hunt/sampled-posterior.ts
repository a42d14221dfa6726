import type { LeakProblem, Particle, PathPosterior, Posterior } from './leak-problem.ts'
import { type LeakState, setRun, tightState } from './leak-state.ts'
import { updatePair } from './pair-update.ts'
import { updatePath } from './path-update.ts'
import { type Random, seededRandom } from './random.ts'

export interface SamplingEffort {
  readonly seed: number
  readonly chains: number
  /** Rounds of drawing every path once; the first quarter of a chain is thrown away. */
  readonly rounds: number
}

const batchesPerChain = 5
const particlesKept = 1000

/** An effort that keeps 60 fittings in 12 sections within a second on a small machine. */
const usualEffort: SamplingEffort = { seed: 1, chains: 4, rounds: 800 }

/**
 * Posterior by Gibbs sampling, several chains from different starts. The standard error of each probability comes from
 * the scatter of batches over all chains, so that chains which disagree show as a large error.
 */
export function sampledPosterior(problem: LeakProblem, effort: SamplingEffort = usualEffort): Posterior {
  const count = problem.paths.length
  const burnIn = Math.ceil(effort.rounds / 4)
  const batchRounds = Math.ceil((effort.rounds - burnIn) / batchesPerChain)
  const batches: Float64Array[] = []
  const particles: Particle[] = []
  const rates = Array.from({ length: count }, () => [] as number[])
  const keepEvery = Math.max(1, Math.floor((effort.chains * batchRounds * batchesPerChain) / particlesKept))

  for (let chain = 0; chain < effort.chains; chain++) {
    const random = seededRandom(effort.seed * 1000 + chain)
    const state = tightState(problem)
    if (chain % 2 === 1) startLeaking(problem, state, random)
    const often = new Float64Array(count)
    for (let round = 0; round < burnIn; round++)
      runRound(
        problem,
        state,
        random,
        often,
        pairChooser(
          often.map((_, p) => problem.paths[p].prior),
          random,
        ),
      )
    // Fixed from here on: a choice of pairs that followed the state would bend the result.
    const choose = pairChooser(
      often.map((sum) => sum / burnIn),
      random,
    )
    for (let batch = 0; batch < batchesPerChain; batch++) {
      const sum = new Float64Array(count)
      for (let round = 0; round < batchRounds; round++) {
        runRound(problem, state, random, sum, choose)
        if (round % keepEvery === 0) particles.push(particleOf(state))
        for (let p = 0; p < count; p++) {
          const slot = state.first[p] + state.epochs[p] - 1
          if (state.rateClass[slot] >= 0) rates[p].push(state.rate[slot])
        }
      }
      batches.push(sum.map((s) => s / batchRounds))
    }
  }
  averageAlike(problem, batches)
  const paths = rates.map((drawn, p): PathPosterior => {
    const mean = batches.reduce((sum, b) => sum + b[p], 0) / batches.length
    const squares = batches.reduce((sum, b) => sum + (b[p] - mean) ** 2, 0)
    return {
      leaking: mean,
      error: Math.sqrt(squares / (batches.length - 1) / batches.length),
      rate: mean < 0.01 || drawn.length < 20 ? null : drawnInterval(drawn),
    }
  })
  const weight = 1 / particles.length
  return {
    method: 'sampled',
    count: effort.chains * batchRounds * batchesPerChain,
    paths,
    particles: particles.map((p) => ({ ...p, weight })),
  }
}

function runRound(
  problem: LeakProblem,
  state: LeakState,
  random: Random,
  leaking: Float64Array,
  choose: () => number,
): void {
  for (let p = 0; p < leaking.length; p++) leaking[p] += updatePath(problem, state, p, random)
  if (leaking.length < 2) return
  const pairs = Math.min(8, leaking.length)
  for (let i = 0; i < pairs; i++) {
    const p = choose()
    const q = choose()
    if (p !== q) updatePair(problem, state, p, q, random)
  }
}

/** Draws a path in proportion to how often it leaks, never neglecting any. */
function pairChooser(often: Float64Array, random: Random): () => number {
  const cumulative = new Float64Array(often.length)
  let total = 0
  for (let p = 0; p < often.length; p++) {
    total += often[p] + 0.02
    cumulative[p] = total
  }
  return () => {
    const at = random() * total
    let p = 0
    while (p < often.length - 1 && cumulative[p] < at) p++
    return p
  }
}

/** A start far from tight: every third path leaks with a rate of its own. */
function startLeaking(problem: LeakProblem, state: LeakState, random: Random): void {
  for (let p = 0; p < problem.paths.length; p++) {
    if (state.allowed[p].length === 0 || random() > 1 / 3) continue
    const k = state.allowed[p][Math.floor(random() * state.allowed[p].length)]
    setRun(
      state,
      state.first[p] + state.epochs[p] - 1,
      state.first[p] + state.epochs[p] - 1,
      k,
      problem.rates.mean[k],
    )
  }
}

function particleOf(state: LeakState): Particle {
  return {
    weight: 0,
    rates: Float64Array.from(state.first, (first, p) => state.rate[first + state.epochs[p] - 1]),
  }
}

/** Paths that nothing in the problem tells apart have the same probability: their mean is the better estimate of it. */
function averageAlike(problem: LeakProblem, batches: readonly Float64Array[]): void {
  const groups = new Map<string, number[]>()
  problem.paths.forEach((path, p) => {
    const terms = (
      rows: readonly { readonly terms: readonly { path: number; epoch: number; factor: number }[] }[],
    ) => rows.flatMap((row, r) => row.terms.filter((t) => t.path === p).map((t) => [r, t.epoch, t.factor]))
    const key = JSON.stringify([path, terms(problem.rows), terms(problem.verdictRows)])
    groups.set(key, [...(groups.get(key) ?? []), p])
  })
  for (const alike of groups.values()) {
    if (alike.length === 1) continue
    for (const batch of batches) {
      const mean = alike.reduce((sum, p) => sum + batch[p], 0) / alike.length
      for (const p of alike) batch[p] = mean
    }
  }
}

function drawnInterval(drawn: number[]): { value: number; low: number; high: number } {
  const sorted = Float64Array.from(drawn).sort()
  const at = (q: number): number => sorted[Math.round(q * (sorted.length - 1))]
  return { value: at(0.5), low: at(0.025), high: at(0.975) }
}
