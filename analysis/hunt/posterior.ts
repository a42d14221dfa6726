import type { Estimate } from '#analysis/model/hold-result.ts'
import { mixtureQuantile, type NormalMixture } from '#analysis/numeric/normal-mixture.ts'
import { type LeakRun, oddsOf, type PathGroup, pathGroups, sumExp } from './leak-options.ts'
import type { LeakProblem, PathPosterior, Present } from './leak-problem.ts'
import {
  combination,
  combinations,
  countedSets,
  isMeasured,
  isSeen,
  type LeakSets,
  type Member,
  negligible,
  symmetricSums,
} from './leak-sets.ts'
import { type RateIntegral, rateIntegral } from './rate-integral.ts'

const presentsKept = 600

/**
 * Exact posterior: all sets of simultaneous leaks up to a size, rates integrated over the positive axis, paths that differ
 * only in their priors counted together. No random draws: the result is deterministic.
 */
export function leakPosterior(problem: LeakProblem) {
  const groups = pathGroups(problem)
  for (let widened = 1; ; widened *= 2) {
    const integral = rateIntegral(problem, widened)
    const counted = countedSets(problem, groups, integral)
    if (counted.total > 0 || widened > 1000) return summary(problem, groups, integral, counted, widened)
  }
}

export type Posterior = Readonly<ReturnType<typeof leakPosterior>>

/** Sums over the counted sets. */
function summary(
  problem: LeakProblem,
  groups: readonly PathGroup[],
  integral: RateIntegral,
  counted: LeakSets,
  widened: number,
) {
  /** Adds the rates of one set to the moments of its groups and to the predicted sums. */
  function addRates(
    members: readonly Member[],
    share: number,
    all: readonly Float64Array[],
    predicted: Float64Array,
    now: Now[],
  ): void {
    const runs = members
      .flatMap((m) =>
        m.option.runs.filter(isMeasured).map((run, i) => ({ run, group: m.group, shape: m.shapes[i] })),
      )
      .sort((a, b) => a.shape - b.shape)
    const { mean, moments } = integral.rates(runs.map((r) => r.shape))
    runs.forEach(({ run, group }, i) => {
      for (const { row, factor } of run.column) predicted[row] += share * factor * mean[i]
      if (!run.isNow) return
      now.push({ group, molPerS: mean[i] })
      moments[i].forEach((moment, k) => {
        all[group][k] += share * moment
      })
    })
    for (const { group, option } of members)
      for (const run of option.runs)
        if (!isMeasured(run) && run.isNow) now.push({ group, molPerS: unmeasured(run, all[group], share) })
  }

  /** Mean rate of an unmeasured leak; its classes are added to the moments. */
  function unmeasured({ classLogs }: LeakRun, moments: Float64Array, share: number): number {
    const { mean, std } = problem.rates
    const sum = sumExp(classLogs)
    return classLogs.reduce((rate, log, k) => {
      const part = Math.exp(log) / sum
      moments[3 * k] += share * part
      moments[3 * k + 1] += share * part * mean[k]
      moments[3 * k + 2] += share * part * (mean[k] ** 2 + std[k] ** 2)
      return rate + part * mean[k]
    }, 0)
  }

  function pathsOf(states: readonly State[], moments: readonly Float64Array[]): PathPosterior[] {
    const out = problem.paths.map((): PathPosterior => ({ leaking: 0, rate: null }))
    groups.forEach((group, g) => {
      const rate = mixtureInterval(moments[g])
      group.paths.forEach((p, i) => {
        if (!isSeen(group)) {
          out[p] = { leaking: chanceOf(group, i), rate: null }
          return
        }
        let leaking = 0
        for (const { counts, weight } of states)
          for (const [of, n] of counts) if (of === g) leaking += weight * shareOf(group, i, n)
        out[p] = { leaking: Math.min(1, leaking), rate: leaking >= 0.01 ? rate : null }
      })
    })
    return out
  }

  /** Probability that a path is among the n leaking paths of its group. */
  function shareOf({ weights }: PathGroup, i: number, n: number): number {
    const others = weights.filter((_, j) => j !== i)
    return (weights[i] * symmetricSums(others, n)[n - 1]) / symmetricSums(weights, n)[n]
  }

  function anyOf(asked: ReadonlySet<number>, states: readonly State[]): number {
    const outside = groups.map(({ paths, weights }) => weights.filter((_, i) => !asked.has(paths[i])))
    let tight = states.reduce((sum, { weight, counts }) => {
      let none = 1
      for (const [g, n] of counts)
        none *= symmetricSums(outside[g], n)[n] / symmetricSums(groups[g].weights, n)[n]
      return sum + weight * none
    }, 0)
    groups.forEach((group) => {
      if (!isSeen(group))
        group.paths.forEach((p, i) => {
          if (asked.has(p)) tight *= 1 - chanceOf(group, i)
        })
    })
    return Math.max(0, 1 - tight)
  }

  /** Expands sets of groups into paths, sampled evenly if there are too many ways. */
  function expanded(states: readonly State[]): Present[] {
    const out: Present[] = []
    for (const { weight, counts, rates } of states) {
      if (weight < negligible) continue
      const ways = counts.reduce((w, [g, n]) => w * combinations(groups[g].paths.length, n), 1)
      const taken = Math.min(ways, Math.max(1, Math.round(presentsKept * weight)))
      const sampled = Array.from({ length: taken }, (_, i) => leaksOf(counts, Math.floor((i * ways) / taken)))
      const sum = sampled.reduce((total, s) => total + s.odds, 0)
      for (const { paths, odds } of sampled)
        out.push({
          weight: (weight * odds) / sum,
          leaks: paths.map((path, j) => ({ path, molPerS: rates[j] })),
        })
    }
    const sum = out.reduce((total, p) => total + p.weight, 0)
    return out.map((p) => ({ ...p, weight: p.weight / sum })).sort((a, b) => b.weight - a.weight)
  }

  /** Leaks at paths never held, each alone, weighted by odds against no leak. */
  function unheldOf(): Present[] {
    const [molPerS] = problem.rates.mean
    return groups.flatMap((group) => {
      if (isSeen(group)) return []
      return group.paths.map((path, i) => {
        const p = chanceOf(group, i)
        return { weight: p / (1 - p), leaks: [{ path, molPerS }] }
      })
    })
  }

  function leaksOf(counts: State['counts'], index: number): { paths: number[]; odds: number } {
    let rest = index
    let odds = 1
    const paths = counts.flatMap(([g, n]) => {
      const group = groups[g]
      const ways = combinations(group.paths.length, n)
      const mine = combination(group.paths.length, n, rest % ways)
      rest = Math.floor(rest / ways)
      for (const i of mine) odds *= group.weights[i]
      return mine.map((i) => group.paths[i])
    })
    return { paths, odds }
  }

  const { rows } = problem
  const moments = groups.map(() => new Float64Array(3 * problem.rates.mean.length))
  const predicted = new Float64Array(rows.length)
  const presents: { weight: number; now: Now[] }[] = []
  for (const { members, total } of counted.sets) {
    const share = total / counted.total
    const now: Now[] = []
    if (share > negligible) addRates(members, share, moments, predicted, now)
    else for (const m of members) if (m.option.runs.at(-1)!.isNow) now.push({ group: m.group, molPerS: 0 })
    presents.push({ weight: share, now })
  }
  const states = merged(presents)
  return {
    /** Number of counted sets of simultaneous leaks, and size of the largest. */
    sets: counted.sets.length,
    largest: counted.most,
    /** Probability of larger sets, extrapolated from its fall with size; 0 when all were counted. */
    beyond: counted.beyond(),
    paths: pathsOf(states, moments),
    /** Possible presents for planning, heaviest first; their weights sum to 1. */
    presents: expanded(states),
    unheld: unheldOf(),
    /** Mean of each predicted sum less its measured value, in standard uncertainties. */
    misfits: rows.map((row, r) => (predicted[r] - row.molPerS) / row.stdMolPerS),
    /** Factor on the uncertainty of the sums needed for any set to explain them; 1 if not needed. */
    widened: counted.total > 0 ? widened : Number.POSITIVE_INFINITY,
    /** Probability that at least one of these paths leaks now. */
    any: (asked: ReadonlySet<number>) => anyOf(asked, states),
  }
}

interface Now {
  readonly group: number
  readonly molPerS: number
}

/** Present leaks, regardless of history: number in each group, and mean rates in the same order. */
interface State {
  readonly counts: readonly (readonly [group: number, n: number])[]
  readonly rates: readonly number[]
  readonly weight: number
}

function merged(presents: readonly { readonly weight: number; readonly now: readonly Now[] }[]): State[] {
  const states = new Map<string, { counts: [number, number][]; sums: number[]; weight: number }>()
  for (const { weight, now } of presents) {
    const sorted = [...now].sort((a, b) => a.group - b.group || b.molPerS - a.molPerS)
    const key = sorted.map((n) => n.group).join()
    let known = states.get(key)
    if (!known) {
      const counts: [number, number][] = []
      for (const { group } of sorted)
        if (counts.at(-1)?.[0] === group) counts[counts.length - 1][1]++
        else counts.push([group, 1])
      known = { counts, sums: sorted.map(() => 0), weight: 0 }
      states.set(key, known)
    }
    known.weight += weight
    sorted.forEach((n, i) => {
      known.sums[i] += weight * n.molPerS
    })
  }
  return [...states.values()]
    .map(({ counts, sums, weight }) => ({ counts, weight, rates: sums.map((s) => s / weight) }))
    .sort((a, b) => b.weight - a.weight)
}

/** Probability that the i-th path of a group that was never held leaks now. */
function chanceOf({ options, odds: first }: PathGroup, i: number): number {
  let leaks = 0
  let all = 1
  for (const option of options) {
    const odds = option === options[0] ? first[i] : oddsOf(option)
    all += odds
    if (option.runs.at(-1)!.isNow) leaks += odds
  }
  return leaks / all
}

/**
 * Median and central 95 % interval of a mixture of normals, cut at zero; weights need not sum to 1.
 *
 * @param moments weight, weight · mean and weight · mean square of each normal
 */
function mixtureInterval(moments: Float64Array): Estimate | null {
  const mixture: NormalMixture = { weight: [], mean: [], std: [] }
  for (let k = 0; k < moments.length; k += 3) {
    const [weight, first, second] = moments.subarray(k)
    if (!(weight > 0)) continue
    const mean = first / weight
    mixture.weight.push(weight)
    mixture.mean.push(mean)
    mixture.std.push(Math.sqrt(Math.max(second / weight - mean * mean, (1e-9 * mean) ** 2)))
  }
  if (mixture.weight.length === 0) return null
  const [value, low, high] = [0.5, 0.025, 0.975].map((q) => Math.max(0, mixtureQuantile(mixture, q)))
  return { value, low, high }
}
