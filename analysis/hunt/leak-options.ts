import { groupBy } from '#analysis/model/group-by.ts'
import type { LeakPath, LeakProblem } from './leak-problem.ts'

/** A possible leak history of a path, other than 'always tight'. */
export interface LeakOption {
  /** Log odds against 'always tight', including looks in the tight epochs. */
  readonly logOdds: number
  /** Runs of epochs over which it leaked at one rate. */
  readonly runs: readonly LeakRun[]
  /** Verdict rows in which it leaked. */
  readonly verdicts: readonly number[]
}

export interface LeakRun {
  /** Factors of its rate in the rows that measured it. */
  readonly column: readonly { readonly row: number; readonly factor: number }[]
  /** Log weight of each rate class, including looks. */
  readonly classLogs: readonly number[]
  /** True when it extends to the last epoch: it leaks now. */
  readonly isNow: boolean
}

/** Most runs of a history: a path leaks, is cured and leaks again at most once. */
const mostRuns = 2
/** Least log odds of a history against 'always tight'. */
const leastLogOdds = -25

/**
 * Groups of paths that differ in their priors at most: they are counted together. Those with more than one history have
 * equal priors too.
 *
 * @returns the options of the first path, since the others have the same runs; the odds of the first option for each path, with
 * unmeasured rates integrated out; and the weight of each path among those of the group: its odds, or 1 where the priors are equal
 */
export function pathGroups(problem: LeakProblem) {
  const rowTerms = termsByPath(problem, problem.rows)
  const verdictTerms = termsByPath(problem, problem.verdictRows)
  const paths = problem.paths.map((_, path) => {
    return { path, options: optionsOf(problem, path, rowTerms[path], verdictTerms[path]) }
  })
  const groups = groupBy(paths, ({ options }) =>
    JSON.stringify(options.map((o) => [o.runs, o.verdicts, options.length > 1 && o.logOdds])),
  )
  return [...groups.values()]
    .filter(([{ options }]) => options.length > 0)
    .map((members) => {
      const [{ options }] = members
      const odds = members.map((m) => oddsOf(m.options[0]))
      const weights = options.length > 1 ? odds.map(() => 1) : odds
      return { paths: members.map((m) => m.path), options, odds, weights }
    })
}

export type PathGroup = Readonly<ReturnType<typeof pathGroups>[number]>

/** Odds of a history, with unmeasured rates integrated out. */
export function oddsOf({ logOdds, runs }: LeakOption): number {
  return runs.reduce(
    (product, run) => (run.column.length > 0 ? product : product * sumExp(run.classLogs)),
    Math.exp(logOdds),
  )
}

export function sumExp(logs: readonly number[]): number {
  return logs.reduce((sum, l) => sum + Math.exp(l), 0)
}

interface SeenTerm {
  readonly row: number
  readonly epoch: number
  readonly factor: number
}

function termsByPath(
  problem: LeakProblem,
  rows: LeakProblem['rows'] | LeakProblem['verdictRows'],
): SeenTerm[][] {
  const byPath: SeenTerm[][] = problem.paths.map(() => [])
  rows.forEach((seen, row) => {
    for (const { path, epoch, factor } of seen.terms) byPath[path].push({ row, epoch, factor })
  })
  return byPath
}

interface Span {
  readonly from: number
  readonly to: number
}

function optionsOf(
  { paths, rates }: LeakProblem,
  p: number,
  rowTerms: readonly SeenTerm[],
  verdictTerms: readonly SeenTerm[],
): LeakOption[] {
  const path = paths[p]
  const last = path.breaks.length
  const histories = historiesOf(path)
  const tight = histories.find((h) => h.runs.length === 0)!.log
  return histories
    .filter((h) => h.runs.length > 0 && h.log - tight > leastLogOdds)
    .map(({ runs, log }) => ({
      logOdds: log - tight,
      runs: runs.map(({ from, to }): LeakRun => {
        const inRun = (t: SeenTerm): boolean => from <= t.epoch && t.epoch <= to
        const factors = new Map<number, number>()
        for (const t of rowTerms) if (inRun(t)) factors.set(t.row, (factors.get(t.row) ?? 0) + t.factor)
        return {
          column: [...factors].map(([row, factor]) => ({ row, factor })),
          classLogs: rates.weight.map((w, k) => {
            let sum = Math.log(w)
            for (let e = from; e <= to; e++) sum += path.looks[e]?.[k + 1] ?? 0
            return sum
          }),
          isNow: to === last,
        }
      }),
      verdicts: verdictTerms
        .filter((t) => runs.some((r) => r.from <= t.epoch && t.epoch <= r.to))
        .map((t) => t.row),
    }))
}

interface History {
  readonly runs: readonly Span[]
  readonly log: number
}

/** All histories with at most two runs, with the log of the prior times the likelihood of looks while tight. */
function historiesOf(path: LeakPath): History[] {
  let open: History[] = [{ runs: [], log: 0 }]
  for (let epoch = 0; epoch <= path.breaks.length; epoch++) {
    const change = epoch === 0 ? null : path.breaks[epoch - 1]
    const tightLook = path.looks[epoch]?.[0] ?? 0
    const next: History[] = []
    const push = (runs: readonly Span[], log: number): void => {
      if (runs.length <= mostRuns && log > Number.NEGATIVE_INFINITY) next.push({ runs, log })
    }
    for (const { runs, log } of open) {
      const run = runs.at(-1)
      const leaked = run !== undefined && run.to === epoch - 1
      const off = change === null ? 1 - path.prior : leaked ? change.cure : 1 - change.harm
      const begun = change === null ? path.prior : leaked ? 1 - change.cure - change.unchanged : change.harm
      push(runs, log + Math.log(off) + tightLook)
      // A rounding residue of 1 is not a probability of a new rate.
      if (begun > 1e-9) push([...runs, { from: epoch, to: epoch }], log + Math.log(begun))
      if (leaked)
        push([...runs.slice(0, -1), { from: run.from, to: epoch }], log + Math.log(change!.unchanged))
    }
    open = next
  }
  return open
}
