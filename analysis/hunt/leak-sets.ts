import { type LeakOption, type LeakRun, oddsOf, type PathGroup } from './leak-options.ts'
import type { LeakProblem } from './leak-problem.ts'
import { mostRunsTogether, type RateIntegral } from './rate-integral.ts'

/** Sets of up to three leaks are always counted; larger ones until they are negligible or too many. */
const fewestTogether = 3
const mostTogether = 9
const leastBeyond = 2e-3
const mostSets = 60_000
/** Relative weight below which a set changes no printed rate. */
export const negligible = 1e-6

/** Counts sets of increasing size until they are negligible. */
export function countedSets(problem: LeakProblem, groups: readonly PathGroup[], integral: RateIntegral) {
  let counting = setsUpTo(problem, groups, integral, fewestTogether)
  for (let most = fewestTogether + 1; most <= mostTogether; most++) {
    const isSettled =
      counting.total > 0 && counting.beyond() < (problem.rows.length > 0 ? leastBeyond : 1e-15)
    if (isSettled || counting.setsAt(most) > mostSets) break
    const larger = setsUpTo(problem, groups, integral, most)
    if (larger.skipped > 0 && counting.total > 0 && counting.beyond() < 0.1) break
    counting = larger
  }
  return counting
}

export interface Member {
  readonly group: number
  readonly index: number
  readonly option: LeakOption
  /** Shapes of the measured runs, and the runs that leak now. */
  readonly shapes: readonly number[]
}

export interface CountedSet {
  readonly members: readonly Member[]
  readonly total: number
}

/** Counts all sets up to a given size. */
function setsUpTo(problem: LeakProblem, groups: readonly PathGroup[], integral: RateIntegral, asked: number) {
  const everyMember = groups.flatMap((g, group) =>
    isSeen(g)
      ? g.options.map((option, index): Member => {
          const shapes = option.runs.filter(isMeasured).map((r) => integral.shape(r))
          return { group, index, option, shapes }
        })
      : [],
  )
  const pathsSeen = groups.reduce((sum, g) => (isSeen(g) ? sum + g.paths.length : sum), 0)
  const most = Math.min(asked, pathsSeen)
  const sums = groups.map((g) => symmetricSums(g.odds, most))
  const bySize = new Float64Array(most + 1)
  const excluded = new Uint8Array(everyMember.length)
  const used = new Int32Array(groups.length)
  const needs = ([1, -1] as const).flatMap((sign) => integral.rowsInNeed(sign).map((row) => ({ row, sign })))
  const sets: CountedSet[] = []
  const chosen: number[] = []
  let whole = 0
  let skipped = 0
  let visited = 0

  /** Approximate number of sets visited at this size. */
  function setsAt(size: number): number {
    return size > pathsSeen ? 0 : (visited * (everyMember.length + size)) / size
  }

  /** Probability of larger sets, extrapolated from its last fall with size. */
  function beyond(): number {
    const last = bySize[most]
    if (most >= pathsSeen || whole === 0) return 0
    const before = most > 0 ? bySize[most - 1] : 0
    // The weight grows with size until the sums are covered; then each further leak multiplies it by its odds.
    const expected = groups.reduce((sum, g) => g.odds.reduce((s, o) => s + o, sum), 0)
    const ratio = Math.min(0.9, last < before ? last / before : expected / (most + 1))
    const tail = (last * ratio) / (1 - ratio)
    return tail / (whole + tail)
  }

  /** Every positive sum needs a leak: branches on leaks that explain the first unexplained sum, visiting each set once. */
  function cover(): void {
    const need = needs.find((n) => !chosen.some((c) => serves(everyMember[c], n)))
    if (!need) {
      extend(0)
      return
    }
    if (chosen.length >= most) return
    const tried: number[] = []
    for (let m = 0; m < everyMember.length; m++) {
      if (excluded[m] || !serves(everyMember[m], need) || !take(m)) continue
      cover()
      leave(m)
      excluded[m] = 1
      tried.push(m)
    }
    for (const m of tried) excluded[m] = 0
  }

  function extend(from: number): void {
    count()
    if (chosen.length >= most) return
    for (let m = from; m < everyMember.length; m++) {
      if (excluded[m] || !take(m)) continue
      extend(m)
      leave(m)
    }
  }

  function take(m: number): boolean {
    const { group } = everyMember[m]
    if (used[group] >= groups[group].paths.length) return false
    used[group]++
    chosen.push(m)
    return true
  }

  function leave(m: number): void {
    used[everyMember[m].group]--
    chosen.pop()
  }

  function count(): void {
    visited++
    const members = chosen.map((c) => everyMember[c])
    const shapes = shapesOf(members)
    if (shapes.length > mostRunsTogether) return
    const bound = oddsOfSet(members) * verdicts(members)
    // Upper bound: the weight of a perfect fit.
    if (bound < negligible * whole) return
    const weight = integral.weigh(shapes)
    if (weight === null) skipped++
    const total = bound * (weight ?? 0)
    if (!(total > 0)) return
    whole += total
    bySize[members.length] += total
    sets.push({ members, total })
  }

  /** Total odds of all assignments of the groups' paths to these options. */
  function oddsOfSet(members: readonly Member[]): number {
    let odds = 1
    for (let i = 0; i < members.length; i++) {
      const { group, index, option } = members[i]
      const { paths, options } = groups[group]
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
      else if (!more) odds *= sums[group][before + 1]
    }
    return odds
  }

  function verdicts(members: readonly Member[]): number {
    let chance = 1
    problem.verdictRows.forEach((row, v) => {
      const says = members.some((m) => m.option.verdicts.includes(v)) ? row.detection : row.falseAlarm
      chance *= row.leaks ? says : 1 - says
    })
    return chance
  }

  cover()
  return {
    sets,
    total: whole,
    /** Sets skipped because their rates have too many class combinations. */
    skipped,
    /** Size of the largest sets. */
    most,
    setsAt,
    beyond,
  }
}

export type LeakSets = Readonly<ReturnType<typeof setsUpTo>>

function shapesOf(members: readonly Member[]): number[] {
  return members.flatMap((m) => m.shapes).sort((a, b) => a - b)
}

function serves({ option }: Member, { row, sign }: { readonly row: number; readonly sign: 1 | -1 }): boolean {
  return option.runs.some((r) => r.column.some((c) => c.row === row && c.factor * sign > 0))
}

/** True for paths measured by a hold: the others are independent. */
export function isSeen({ options }: PathGroup): boolean {
  return options.some((o) => o.verdicts.length > 0 || o.runs.some(isMeasured))
}

export function isMeasured({ column }: LeakRun): boolean {
  return column.length > 0
}

/** Binomial coefficient, n over k; 0 if k exceeds n. */
export function combinations(n: number, k: number): number {
  if (k < 0 || k > n) return 0
  let ways = 1
  for (let i = 1; i <= k; i++) ways = (ways * (n - k + i)) / i
  return Math.round(ways)
}

/** The combination of this rank among all k of n in lexicographic order, indices from 0. */
export function combination(n: number, k: number, rank: number): number[] {
  const out: number[] = []
  let rest = rank
  for (let i = 0, left = k; left > 0; i++) {
    const withI = combinations(n - i - 1, left - 1)
    if (rest < withI) {
      out.push(i)
      left--
    } else rest -= withI
  }
  return out
}

/** Elementary symmetric polynomials e₀ … e_most of the values. */
export function symmetricSums(values: readonly number[], most: number): Float64Array {
  const sums = new Float64Array(most + 1)
  sums[0] = 1
  for (const value of values) for (let k = most; k > 0; k--) sums[k] += value * sums[k - 1]
  return sums
}
