import { combination, combinations, symmetricSums } from './combinations.ts'
import { type LeakOption, type LeakRun, oddsOf, type PathGroup, pathGroups, sumExp } from './leak-options.ts'
import type { LeakProblem, PathPosterior, Present } from './leak-problem.ts'
import { normalMixtureInterval } from './mixture-interval.ts'
import { mostRunsTogether, RateIntegral } from './rate-integral.ts'

export interface Posterior {
  /** Sets of simultaneous leaks counted, and members of the largest. */
  readonly sets: number
  readonly largest: number
  /** Probability of still larger sets, estimated from how it falls with their size; 0 when all were counted. */
  readonly beyond: number
  readonly paths: readonly PathPosterior[]
  /** Possible presents for planning, heaviest first; their weights sum to 1. */
  readonly presents: readonly Present[]
  /** Leaks where no hold has been, each alone; their weights are odds against none. */
  readonly unheld: readonly Present[]
  /** The likeliest answers to 'which leak together', at most five. */
  readonly together: readonly { readonly paths: readonly number[]; readonly probability: number }[]
  /** Mean of each measured sum less what was measured, in standard uncertainties. */
  readonly misfits: readonly number[]
  /** Factor on the uncertainty of the sums without which no set explains them; 1 where some set does. */
  readonly widened: number
  /** Probability that at least one of these paths leaks now. */
  any(paths: ReadonlySet<number>): number
}

/** Sets of up to three leaks at once are always counted; larger ones until they no longer matter or grow too many. */
const fewestTogether = 3
const mostTogether = 9
const leastBeyond = 2e-3
const mostSets = 60_000
/** Lighter sets than this, against all, change no printed rate. */
const negligible = 1e-6
const presentsKept = 600

/**
 * Exact posterior: every set of simultaneous leaks up to a size, rates integrated over the positive axis, paths alike but
 * for their priors counted together. No draws: the same evidence gives the same digits.
 */
export function leakPosterior(problem: LeakProblem): Posterior {
  const groups = pathGroups(problem)
  for (let widened = 1; ; widened *= 2) {
    const integral = new RateIntegral(problem, widened)
    const counted = countedEnough(problem, groups, integral)
    if (counted.total > 0 || widened > 1000) return counted.posterior(widened)
  }
}

/** Counts larger and larger sets until they no longer matter. */
function countedEnough(problem: LeakProblem, groups: readonly PathGroup[], integral: RateIntegral): Counting {
  let counting = new Counting(problem, groups, integral, fewestTogether)
  for (let most = fewestTogether + 1; most <= mostTogether; most++) {
    const isSettled =
      counting.total > 0 && counting.beyond() < (problem.rows.length > 0 ? leastBeyond : 1e-15)
    if (isSettled || counting.setsAt(most) > mostSets) break
    const larger = new Counting(problem, groups, integral, most)
    if (larger.skipped > 0 && counting.total > 0 && counting.beyond() < 0.1) break
    counting = larger
  }
  return counting
}

interface Member {
  readonly group: number
  readonly index: number
  readonly option: LeakOption
  /** Shapes of its measured runs, and those that leak now among all runs. */
  readonly shapes: readonly number[]
}

interface CountedSet {
  readonly members: readonly Member[]
  readonly total: number
}

/** Counts all sets with at most so many members. */
class Counting {
  total = 0
  /** Sets left out because their rates can be shared out in too many ways. */
  skipped = 0
  readonly #problem: LeakProblem
  readonly #groups: readonly PathGroup[]
  readonly #integral: RateIntegral
  readonly #most: number
  readonly #members: readonly Member[]
  readonly #needs: readonly { readonly row: number; readonly sign: 1 | -1 }[]
  readonly #sums: readonly Float64Array[]
  readonly #sets: CountedSet[] = []
  readonly #bySize: Float64Array
  readonly #excluded: Uint8Array
  readonly #chosen: number[] = []
  readonly #used: Int32Array
  #visited = 0

  constructor(problem: LeakProblem, groups: readonly PathGroup[], integral: RateIntegral, most: number) {
    this.#problem = problem
    this.#groups = groups
    this.#integral = integral
    this.#members = groups.flatMap((g, group) =>
      isSeen(g)
        ? g.options.map((option, index) => ({
            group,
            index,
            option,
            shapes: option.runs.filter(isMeasured).map((r) => integral.shape(r)),
          }))
        : [],
    )
    this.#most = Math.min(most, this.#pathsSeen())
    this.#sums = groups.map((g) => symmetricSums(g.odds, this.#most))
    this.#bySize = new Float64Array(this.#most + 1)
    this.#excluded = new Uint8Array(this.#members.length)
    this.#used = new Int32Array(groups.length)
    this.#needs = ([1, -1] as const).flatMap((sign) =>
      integral.rowsInNeed(sign).map((row) => ({ row, sign })),
    )
    this.#cover()
  }

  #pathsSeen(): number {
    return this.#groups.reduce((sum, g) => (isSeen(g) ? sum + g.paths.length : sum), 0)
  }

  /** Sets that counting one size more would visit, roughly. */
  setsAt(most: number): number {
    return most > this.#pathsSeen() ? 0 : (this.#visited * (this.#members.length + most)) / most
  }

  /** Probability of larger sets, if it keeps falling with the size as it did last. */
  beyond(): number {
    const last = this.#bySize[this.#most]
    if (this.#most >= this.#pathsSeen() || this.total === 0) return 0
    const before = this.#most > 0 ? this.#bySize[this.#most - 1] : 0
    // Before the sums are covered the weight grows with the size; from then on one more leak is worth its odds.
    const expected = this.#groups.reduce((sum, g) => g.odds.reduce((s, o) => s + o, sum), 0)
    const ratio = Math.min(0.9, last < before ? last / before : expected / (this.#most + 1))
    const tail = (last * ratio) / (1 - ratio)
    return tail / (this.total + tail)
  }

  /** Every sum above zero needs a leak: branches on those that serve the first one without, each set once. */
  #cover(): void {
    const need = this.#needs.find((n) => !this.#chosen.some((c) => serves(this.#members[c], n)))
    if (!need) {
      this.#extend(0)
      return
    }
    if (this.#chosen.length >= this.#most) return
    const tried: number[] = []
    for (let m = 0; m < this.#members.length; m++) {
      if (this.#excluded[m] || !serves(this.#members[m], need) || !this.#take(m)) continue
      this.#cover()
      this.#leave(m)
      this.#excluded[m] = 1
      tried.push(m)
    }
    for (const m of tried) this.#excluded[m] = 0
  }

  #extend(from: number): void {
    this.#count()
    if (this.#chosen.length >= this.#most) return
    for (let m = from; m < this.#members.length; m++) {
      if (this.#excluded[m] || !this.#take(m)) continue
      this.#extend(m)
      this.#leave(m)
    }
  }

  #take(m: number): boolean {
    const { group } = this.#members[m]
    if (this.#used[group] >= this.#groups[group].paths.length) return false
    this.#used[group]++
    this.#chosen.push(m)
    return true
  }

  #leave(m: number): void {
    this.#used[this.#members[m].group]--
    this.#chosen.pop()
  }

  #count(): void {
    this.#visited++
    const members = this.#chosen.map((c) => this.#members[c])
    const shapes = shapesOf(members)
    if (shapes.length > mostRunsTogether) return
    const bound = this.#odds(members) * this.#verdicts(members)
    // No set weighs more than if its rates fitted perfectly.
    if (bound < negligible * this.total) return
    const weight = this.#integral.weigh(shapes)
    if (weight === null) this.skipped++
    const total = bound * (weight ?? 0)
    if (!(total > 0)) return
    this.total += total
    this.#bySize[members.length] += total
    this.#sets.push({ members, total })
  }

  /** Odds of all ways in which paths of the groups can fill these options. */
  #odds(members: readonly Member[]): number {
    let odds = 1
    for (let i = 0; i < members.length; i++) {
      const { group, index, option } = members[i]
      const { paths, options } = this.#groups[group]
      let before = 0
      let alike = 1
      let more = false
      for (let j = 0; j < members.length; j++) {
        if (members[j].group !== group) continue
        if (j < i) before++
        if (j < i && members[j].index === index) alike++
        if (j > i) more = true
      }
      if (options.length > 1) odds *= (oddsOf(option) * (paths.length - before)) / alike
      else if (!more) odds *= this.#sums[group][before + 1]
    }
    return odds
  }

  #verdicts(members: readonly Member[]): number {
    let chance = 1
    this.#problem.verdictRows.forEach((row, v) => {
      const says = members.some((m) => m.option.verdicts.includes(v)) ? row.detection : row.falseAlarm
      chance *= row.leaks ? says : 1 - says
    })
    return chance
  }

  posterior(widened: number): Posterior {
    const { rows } = this.#problem
    const pieces = this.#groups.map(() => new Map<number, Piece>())
    const predicted = new Float64Array(rows.length)
    const presents: { weight: number; now: Now[] }[] = []
    for (const { members, total } of this.#sets) {
      const share = total / this.total
      const now: Now[] = []
      if (share > negligible) this.#spell(members, share, pieces, predicted, now)
      else for (const m of members) if (m.option.runs.at(-1)!.isNow) now.push({ group: m.group, molPerS: 0 })
      presents.push({ weight: share, now })
    }
    const states = merged(presents)
    const alone = this.#groups.map((g) => (isSeen(g) ? 0 : aloneChance(g)))
    return {
      sets: this.#sets.length,
      largest: this.#most,
      beyond: this.beyond(),
      paths: this.#paths(states, pieces, alone),
      presents: this.#expanded(states),
      unheld: this.#unheld(),
      together: this.#together(states),
      misfits: rows.map((row, r) => (predicted[r] - row.molPerS) / row.stdMolPerS),
      widened: this.total > 0 ? widened : Number.POSITIVE_INFINITY,
      any: (asked) => this.#any(asked, states),
    }
  }

  /** Rates of one set: added to the pieces of its groups and to the sums that it predicts. */
  #spell(
    members: readonly Member[],
    share: number,
    pieces: readonly Map<number, Piece>[],
    predicted: Float64Array,
    now: Now[],
  ): void {
    const runs = members
      .flatMap((m) =>
        m.option.runs.filter(isMeasured).map((run, i) => ({ run, group: m.group, shape: m.shapes[i] })),
      )
      .sort((a, b) => a.shape - b.shape)
    const { mean, moments } = this.#integral.rates(runs.map((r) => r.shape))
    runs.forEach(({ run, group }, i) => {
      for (const { row, factor } of run.column) predicted[row] += share * factor * mean[i]
      if (!run.isNow) return
      now.push({ group, molPerS: mean[i] })
      for (let k = 0; k < moments[i].length; k += 3)
        if (moments[i][k] > 0)
          addPiece(
            pieces[group],
            k,
            share * moments[i][k],
            share * moments[i][k + 1],
            share * moments[i][k + 2],
          )
    })
    for (const { group, option } of members)
      for (const run of option.runs)
        if (!isMeasured(run) && run.isNow)
          now.push({ group, molPerS: this.#unmeasured(run, pieces[group], share) })
  }

  /** Mean rate of a leak that no sum saw; its classes are added to the pieces. */
  #unmeasured({ classLogs }: LeakRun, pieces: Map<number, Piece>, share: number): number {
    const { mean, std } = this.#problem.rates
    const sum = sumExp(classLogs)
    return classLogs.reduce((rate, log, k) => {
      const part = Math.exp(log) / sum
      addPiece(pieces, k, share * part, share * part * mean[k], share * part * (mean[k] ** 2 + std[k] ** 2))
      return rate + part * mean[k]
    }, 0)
  }

  #paths(
    states: readonly State[],
    pieces: readonly Map<number, Piece>[],
    alone: readonly number[],
  ): PathPosterior[] {
    const out = this.#problem.paths.map((): PathPosterior => ({ leaking: 0, rate: null }))
    this.#groups.forEach((group, g) => {
      const atLeastHinted = [...pieces[g].values()].map(plainPiece)
      const rate = atLeastHinted.length > 0 ? normalMixtureInterval(atLeastHinted) : null
      group.paths.forEach((p, i) => {
        if (!isSeen(group)) {
          out[p] = { leaking: alone[g] / (1 - alone[g]) === 0 ? 0 : chanceOf(group, i), rate: null }
          return
        }
        let leaking = 0
        for (const { counts, weight } of states)
          for (const [of, n] of counts) if (of === g) leaking += weight * this.#shareOf(group, i, n)
        out[p] = { leaking: Math.min(1, leaking), rate: leaking >= 0.01 ? rate : null }
      })
    })
    return out
  }

  /** Probability that a path of a group is among the n of it that leak. */
  #shareOf({ paths, odds, options }: PathGroup, i: number, n: number): number {
    if (options.length > 1) return n / paths.length
    const others = odds.filter((_, j) => j !== i)
    return (odds[i] * symmetricSums(others, n)[n - 1]) / symmetricSums(odds, n)[n]
  }

  #any(asked: ReadonlySet<number>, states: readonly State[]): number {
    const outside = this.#groups.map(({ paths, odds, options }) =>
      odds.map((o) => (options.length > 1 ? 1 : o)).filter((_, i) => !asked.has(paths[i])),
    )
    const whole = this.#groups.map(({ odds, options }) => odds.map((o) => (options.length > 1 ? 1 : o)))
    let tight = states.reduce((sum, { weight, counts }) => {
      let none = 1
      for (const [g, n] of counts) none *= symmetricSums(outside[g], n)[n] / symmetricSums(whole[g], n)[n]
      return sum + weight * none
    }, 0)
    this.#groups.forEach((group) => {
      if (!isSeen(group))
        group.paths.forEach((p, i) => {
          if (asked.has(p)) tight *= 1 - chanceOf(group, i)
        })
    })
    return Math.max(0, 1 - tight)
  }

  /** Sets of groups spelled out in paths, evenly where there are too many ways. */
  #expanded(states: readonly State[]): Present[] {
    const out: Present[] = []
    for (const { weight, counts, rates } of states) {
      if (weight < negligible) continue
      const ways = this.#waysOf(counts)
      const taken = Math.min(ways, Math.max(1, Math.round(presentsKept * weight)))
      const spelled = Array.from({ length: taken }, (_, i) =>
        this.#spelled(counts, Math.floor((i * ways) / taken)),
      )
      const sum = spelled.reduce((total, s) => total + s.odds, 0)
      for (const { paths, odds } of spelled)
        out.push({
          weight: (weight * odds) / sum,
          leaks: paths.map((path, j) => ({ path, molPerS: rates[j] })),
        })
    }
    const sum = out.reduce((total, p) => total + p.weight, 0)
    return out.map((p) => ({ ...p, weight: p.weight / sum })).sort((a, b) => b.weight - a.weight)
  }

  /** Leaks at paths that no hold saw, each alone, their weights as odds against none. */
  #unheld(): Present[] {
    const [molPerS] = this.#problem.rates.mean
    return this.#groups.flatMap((group) => {
      if (isSeen(group)) return []
      return group.paths.map((path, i) => {
        const p = chanceOf(group, i)
        return { weight: p / (1 - p), leaks: [{ path, molPerS }] }
      })
    })
  }

  #together(states: readonly State[]): Posterior['together'] {
    return states
      .flatMap(({ counts, weight }) => {
        const ways = this.#waysOf(counts)
        const all = this.#groupOdds(counts)
        return Array.from({ length: Math.min(200, ways) }, (_, i) => {
          const { paths, odds } = this.#spelled(counts, i)
          return { paths, probability: (weight * odds) / all }
        })
      })
      .sort((a, b) => b.probability - a.probability)
      .slice(0, 5)
  }

  #groupOdds(counts: State['counts']): number {
    return counts.reduce((product, [g, n]) => {
      const { paths, odds, options } = this.#groups[g]
      return product * (options.length > 1 ? combinations(paths.length, n) : symmetricSums(odds, n)[n])
    }, 1)
  }

  #waysOf(counts: State['counts']): number {
    return counts.reduce((ways, [g, n]) => ways * combinations(this.#groups[g].paths.length, n), 1)
  }

  #spelled(counts: State['counts'], index: number): { paths: number[]; odds: number } {
    let rest = index
    let odds = 1
    const paths = counts.flatMap(([g, n]) => {
      const group = this.#groups[g]
      const ways = combinations(group.paths.length, n)
      const mine = combination(group.paths.length, n, rest % ways)
      rest = Math.floor(rest / ways)
      if (group.options.length === 1) for (const i of mine) odds *= group.odds[i]
      return mine.map((i) => group.paths[i])
    })
    return { paths, odds }
  }
}

interface Now {
  readonly group: number
  readonly molPerS: number
}

/** What leaks now, whatever its history: how many of each group, and their mean rates in the same order. */
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

interface Piece {
  weight: number
  first: number
  second: number
}

function addPiece(
  pieces: Map<number, Piece>,
  key: number,
  weight: number,
  first: number,
  second: number,
): void {
  const known = pieces.get(key)
  if (known) {
    known.weight += weight
    known.first += first
    known.second += second
  } else pieces.set(key, { weight, first, second })
}

function plainPiece({ weight, first, second }: Piece): { weight: number; mean: number; std: number } {
  const mean = first / weight
  return { weight, mean, std: Math.sqrt(Math.max(0, second / weight - mean * mean)) }
}

/** True for paths that some hold saw: the others stand alone. */
function isSeen({ options }: PathGroup): boolean {
  return options.some((o) => o.verdicts.length > 0 || o.runs.some(isMeasured))
}

function isMeasured({ column }: LeakRun): boolean {
  return column.length > 0
}

/** Probability that the i-th path of a group leaks now, which no hold saw. */
function chanceOf(group: PathGroup, i: number): number {
  if (group.options.length > 1) return aloneChance(group)
  return group.options[0].runs.at(-1)!.isNow ? group.odds[i] / (1 + group.odds[i]) : 0
}

function aloneChance({ options }: PathGroup): number {
  let leaks = 0
  let all = 1
  for (const option of options) {
    const odds = oddsOf(option)
    all += odds
    if (option.runs.at(-1)!.isNow) leaks += odds
  }
  return leaks / all
}

function shapesOf(members: readonly Member[]): number[] {
  return members.flatMap((m) => m.shapes).sort((a, b) => a - b)
}

function serves({ option }: Member, { row, sign }: { readonly row: number; readonly sign: 1 | -1 }): boolean {
  return option.runs.some((r) => r.column.some((c) => c.row === row && c.factor * sign > 0))
}
