import { factorLower, logDeterminant, solveLower } from '#analysis/numeric/cholesky.ts'
import type { LeakProblem, Particle, PathPosterior, Posterior } from './leak-problem.ts'
import { possibleClasses } from './leak-problem.ts'
import { normalMixtureInterval } from './mixture-interval.ts'
import type { PathHistory } from './path-histories.ts'
import { pathHistories } from './path-histories.ts'

/** Lighter combinations than this, relative to the heaviest, no longer change a printed figure. */
const negligible = 1e-9

/** Posterior by counting every combination of histories; null when there are more than `mostCombinations`. */
export function exactPosterior(problem: LeakProblem, mostCombinations = 40_000): Posterior | null {
  const histories: PathHistory[][] = []
  let combinations = 1
  for (let p = 0; p < problem.paths.length; p++) {
    const list = pathHistories(problem.paths[p], problem.rates, possibleClasses(problem, p), mostCombinations)
    combinations *= list?.length ?? Number.POSITIVE_INFINITY
    if (list === null || combinations > mostCombinations) return null
    histories.push(list)
  }
  const weigh = weigher(problem, histories)
  const logWeights = new Float64Array(combinations)
  const chosen = new Int32Array(histories.length)
  let heaviest = Number.NEGATIVE_INFINITY
  for (let n = 0; n < combinations; n++) {
    pick(n, histories, chosen)
    logWeights[n] = weigh(chosen, null)
    heaviest = Math.max(heaviest, logWeights[n])
  }
  let total = 0
  for (let n = 0; n < combinations; n++) total += Math.exp(logWeights[n] - heaviest)

  const leaking = new Float64Array(histories.length)
  const pieces = histories.map(() => [] as { weight: number; mean: number; std: number }[])
  const particles: Particle[] = []
  for (let n = 0; n < combinations; n++) {
    const weight = Math.exp(logWeights[n] - heaviest) / total
    if (weight * total < negligible) continue
    pick(n, histories, chosen)
    const now: RatesNow = {
      mean: new Float64Array(histories.length),
      std: new Float64Array(histories.length),
    }
    weigh(chosen, now)
    for (let p = 0; p < histories.length; p++) {
      if (now.mean[p] === 0) continue
      leaking[p] += weight
      pieces[p].push({ weight, mean: now.mean[p], std: now.std[p] })
    }
    particles.push({ weight, rates: now.mean })
  }
  const paths = pieces.map(
    (list, p): PathPosterior => ({
      leaking: Math.min(1, leaking[p]),
      error: 0,
      rate: leaking[p] < 0.01 ? null : normalMixtureInterval(list),
    }),
  )
  return { method: 'exact', count: combinations, paths, particles }
}

interface RatesNow {
  readonly mean: Float64Array
  readonly std: Float64Array
}

function pick(n: number, histories: readonly (readonly PathHistory[])[], chosen: Int32Array): void {
  let rest = n
  for (let p = 0; p < histories.length; p++) {
    chosen[p] = rest % histories[p].length
    rest = Math.floor(rest / histories[p].length)
  }
}

/**
 * Log weight of a combination: prior · looks · N(y; A·m, S + A·W·Aᵀ) · verdicts, with A over the runs that leak.
 * With `now` it also leaves there the posterior mean and spread of the rate of each path in its last epoch.
 */
function weigher(problem: LeakProblem, histories: readonly (readonly PathHistory[])[]) {
  const { rows, verdictRows, rates } = problem
  const size = rows.length
  const columns = columnOf(problem)
  const covariance = new Float64Array(size * size)
  const residual = new Float64Array(size)
  const seen = new Float64Array(size)
  const runs: { path: number; rateClass: number; column: Float64Array; last: boolean }[] = []

  return (chosen: Int32Array, now: RatesNow | null): number => {
    let log = 0
    runs.length = 0
    for (let p = 0; p < chosen.length; p++) {
      const history = histories[p][chosen[p]]
      log += history.logWeight
      const lastEpoch = problem.paths[p].breaks.length
      for (const run of history.runs)
        runs.push({
          path: p,
          rateClass: run.rateClass,
          column: columns(p, run.from, run.to),
          last: run.to === lastEpoch,
        })
    }
    for (const row of verdictRows) {
      const any = row.terms.some((t) =>
        histories[t.path][chosen[t.path]].runs.some((r) => r.from <= t.epoch && t.epoch <= r.to),
      )
      const says = any ? row.detection : row.falseAlarm
      log += Math.log(row.leaks ? says : 1 - says)
    }
    covariance.fill(0)
    for (let i = 0; i < size; i++) {
      residual[i] = rows[i].molPerS
      covariance[i * size + i] = rows[i].stdMolPerS ** 2
    }
    for (const { rateClass, column } of runs) {
      const variance = rates.std[rateClass] ** 2
      for (let i = 0; i < size; i++) {
        if (column[i] === 0) continue
        residual[i] -= column[i] * rates.mean[rateClass]
        for (let j = 0; j <= i; j++) covariance[i * size + j] += variance * column[i] * column[j]
      }
    }
    if (!factorLower(covariance, size))
      throw new RangeError('measured leaks need a standard uncertainty above 0')
    const factor = covariance
    const white = solveLower(factor, size, residual, residual)
    log -= 0.5 * logDeterminant(factor, size)
    for (let i = 0; i < size; i++) log -= 0.5 * white[i] ** 2
    if (now !== null) {
      for (const { path, rateClass, column, last } of runs) {
        if (!last) continue
        const variance = rates.std[rateClass] ** 2
        solveLower(factor, size, column, seen)
        let gain = 0
        let known = 0
        for (let i = 0; i < size; i++) {
          gain += seen[i] * white[i]
          known += seen[i] ** 2
        }
        // The normal classes reach a hair below zero; a leak does not.
        now.mean[path] = Math.max(rates.mean[0] * 1e-3, rates.mean[rateClass] + variance * gain)
        now.std[path] = Math.sqrt(Math.max(0, variance - variance ** 2 * known))
      }
    }
    return log
  }
}

/** Factors of a run of a path in each row. */
function columnOf(problem: LeakProblem): (path: number, from: number, to: number) => Float64Array {
  const known = new Map<string, Float64Array>()
  return (path, from, to) => {
    const key = `${path} ${from} ${to}`
    let column = known.get(key)
    if (column === undefined) {
      column = Float64Array.from(problem.rows, (row) =>
        row.terms.reduce(
          (sum, t) => (t.path === path && t.epoch >= from && t.epoch <= to ? sum + t.factor : sum),
          0,
        ),
      )
      known.set(key, column)
    }
    return column
  }
}
