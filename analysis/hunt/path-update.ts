import type { LeakProblem } from './leak-problem.ts'
import { clearSlots, type LeakState, setRun } from './leak-state.ts'
import { normalDraw, type Random } from './random.ts'
import { logRateEvidence } from './rate-evidence.ts'

/** Log factor of the verdict rows of a slot when this slot leaks, and when it does not. */
function verdictLog(problem: LeakProblem, state: LeakState, slot: number, leaks: boolean): number {
  let log = 0
  for (const v of state.slotVerdicts[slot]) {
    const row = problem.verdictRows[v]
    const says = leaks || state.leaking[v] > 0 ? row.detection : row.falseAlarm
    log += Math.log(row.leaks ? says : 1 - says)
  }
  return log
}

/** A rate from its prior class and what the sums say of it. */
export function drawRate(random: Random, pull: number, hold: number, mean: number, std: number): number {
  const prior = 1 / (std * std)
  const precision = prior + hold
  const rate = (mean * prior + pull) / precision + normalDraw(random) / Math.sqrt(precision)
  // The normal classes reach a hair below zero; a leak does not.
  return Math.max(rate, mean * 1e-3)
}

/**
 * Draws the whole history of one path anew, given all others (forward filtering over runs, backward drawing).
 *
 * @returns the probability, given all others, that the path leaks in its last epoch.
 */
export function updatePath(problem: LeakProblem, state: LeakState, p: number, random: Random): number {
  const { mean, std, weight } = problem.rates
  const path = problem.paths[p]
  const base = state.first[p]
  const epochs = state.epochs[p]
  const allowed = state.allowed[p]
  if (epochs === 1) return updateSingle(problem, state, p, random)
  clearSlots(state, base, base + epochs - 1)

  const pull = new Float64Array(epochs)
  const hold = new Float64Array(epochs)
  const off = new Float64Array(epochs)
  const on = new Float64Array(epochs)
  for (let e = 0; e < epochs; e++) {
    for (const { row, factor } of state.slotRows[base + e]) {
      const precision = factor / problem.rows[row].stdMolPerS ** 2
      pull[e] += precision * state.residual[row]
      hold[e] += precision * factor
    }
    off[e] = verdictLog(problem, state, base + e, false) + (path.looks[e]?.[0] ?? 0)
    on[e] = verdictLog(problem, state, base + e, true)
  }

  // endOff[e], endRun[e]: log weight of all histories up to e that are off at e, or whose run ends at e.
  const endOff = new Float64Array(epochs)
  const endRun = new Float64Array(epochs)
  const runs: Float64Array[] = []
  for (let e = 0; e < epochs; e++) {
    const change = e === 0 ? null : path.breaks[e - 1]
    endOff[e] =
      off[e] +
      (change === null
        ? Math.log(1 - path.prior)
        : logSum(endOff[e - 1] + Math.log(1 - change.harm), endRun[e - 1] + Math.log(change.cure)))
    const lists = new Float64Array((e + 1) * allowed.length)
    let sumPull = 0
    let sumHold = 0
    let sumOn = 0
    for (let from = e; from >= 0; from--) {
      sumPull += pull[from]
      sumHold += hold[from]
      sumOn += on[from]
      if (from < e) sumOn += Math.log(path.breaks[from].unchanged)
      const before = from === 0 ? null : path.breaks[from - 1]
      const start =
        before === null
          ? Math.log(path.prior)
          : logSum(
              endOff[from - 1] + Math.log(before.harm),
              endRun[from - 1] + Math.log(Math.max(0, 1 - before.cure - before.unchanged)),
            )
      for (let i = 0; i < allowed.length; i++) {
        const k = allowed[i]
        let log = start + sumOn + Math.log(weight[k]) + logRateEvidence(sumPull, sumHold, mean[k], std[k])
        for (let s = from; s <= e; s++) log += path.looks[s]?.[k + 1] ?? 0
        lists[from * allowed.length + i] = log
      }
    }
    runs.push(lists)
    endRun[e] = logSumAll(lists)
  }

  const last = epochs - 1
  const leaks = 1 / (1 + Math.exp(endOff[last] - endRun[last]))
  let inRun = random() < leaks
  for (let e = last; e >= 0; ) {
    let from = e
    if (inRun) {
      const choice = drawLog(random, runs[e], runs[e].length)
      from = Math.floor(choice / allowed.length)
      const k = allowed[choice % allowed.length]
      let sumPull = 0
      let sumHold = 0
      for (let s = from; s <= e; s++) {
        sumPull += pull[s]
        sumHold += hold[s]
      }
      setRun(state, base + from, base + e, k, drawRate(random, sumPull, sumHold, mean[k], std[k]))
    }
    if (from > 0) {
      const change = path.breaks[from - 1]
      const fromOff = endOff[from - 1] + Math.log(inRun ? change.harm : 1 - change.harm)
      const renew = Math.max(0, 1 - change.cure - change.unchanged)
      const fromRun = endRun[from - 1] + Math.log(inRun ? renew : change.cure)
      inRun = random() < 1 / (1 + Math.exp(fromOff - fromRun))
    }
    e = from - 1
  }
  return leaks
}

/** The same for a path never worked on: most are, and this is where the time goes. */
function updateSingle(problem: LeakProblem, state: LeakState, p: number, random: Random): number {
  const { mean, std, weight } = problem.rates
  const path = problem.paths[p]
  const slot = state.first[p]
  const allowed = state.allowed[p]
  const looks = path.looks[0]
  clearSlots(state, slot, slot)
  let pull = 0
  let hold = 0
  for (const { row, factor } of state.slotRows[slot]) {
    const precision = factor / problem.rows[row].stdMolPerS ** 2
    pull += precision * state.residual[row]
    hold += precision * factor
  }
  const off = Math.log(1 - path.prior) + verdictLog(problem, state, slot, false) + (looks?.[0] ?? 0)
  const on = Math.log(path.prior) + verdictLog(problem, state, slot, true) - off
  let top = 0
  for (let i = 0; i < allowed.length; i++) {
    const k = allowed[i]
    const log = on + (looks?.[k + 1] ?? 0) + logRateEvidence(pull, hold, mean[k], std[k])
    scratch[i] = log
    if (log > top) top = log
  }
  let sum = 0
  for (let i = 0; i < allowed.length; i++) {
    sum += weight[allowed[i]] * Math.exp(scratch[i] - top)
    scratch[i] = sum
  }
  const leaks = sum / (Math.exp(-top) + sum)
  if (random() < leaks) {
    const at = random() * sum
    let i = 0
    while (i < allowed.length - 1 && scratch[i] < at) i++
    const k = allowed[i]
    setRun(state, slot, slot, k, drawRate(random, pull, hold, mean[k], std[k]))
  }
  return leaks
}

/** Scratch of `updateSingle`, more than there are rate classes. */
const scratch = new Float64Array(64)

function logSum(a: number, b: number): number {
  const top = Math.max(a, b)
  return top === Number.NEGATIVE_INFINITY ? top : top + Math.log1p(Math.exp(Math.min(a, b) - top))
}

function logSumAll(logs: Float64Array): number {
  let top = Number.NEGATIVE_INFINITY
  for (const log of logs) if (log > top) top = log
  if (top === Number.NEGATIVE_INFINITY) return top
  let sum = 0
  for (const log of logs) sum += Math.exp(log - top)
  return top + Math.log(sum)
}

/** Index below `count` drawn with probability proportional to exp(log). Leaves running sums in `logs`. */
function drawLog(random: Random, logs: Float64Array, count: number): number {
  let top = Number.NEGATIVE_INFINITY
  for (let i = 0; i < count; i++) if (logs[i] > top) top = logs[i]
  let sum = 0
  for (let i = 0; i < count; i++) {
    // Lighter than e^-40 is never drawn.
    if (logs[i] > top - 40) sum += Math.exp(logs[i] - top)
    logs[i] = sum
  }
  const at = random() * sum
  let i = 0
  while (i < count - 1 && logs[i] <= at) i++
  return i
}
