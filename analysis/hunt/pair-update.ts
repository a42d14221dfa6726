import type { LeakProblem } from './leak-problem.ts'
import { clearSlots, type LeakState, setRun } from './leak-state.ts'
import { drawLog, drawRate } from './path-update.ts'
import { normalDraw, type Random } from './random.ts'
import { logPairEvidence, logRateEvidence, type RateInformation } from './rate-evidence.ts'

/** A stretch of epochs of one path that is set off, or leaking as one run, as a whole. */
interface Stretch {
  readonly path: number
  readonly from: number
  readonly to: number
}

/**
 * Draws two paths that share a measured sum anew together: a leak moves from one to the other, or is split between
 * them, which single draws would take very long to find where the sum is known precisely.
 */
export function updatePair(
  problem: LeakProblem,
  state: LeakState,
  p: number,
  q: number,
  random: Random,
): void {
  const a = drawStretch(state, p, random)
  const b = drawStretch(state, q, random)
  if (!isWhole(state, a) || !isWhole(state, b)) return
  const cross = sharedPrecision(problem, state, a, b)
  if (cross === 0 && !shareVerdict(state, a, b)) return
  clearStretch(state, a)
  clearStretch(state, b)

  const { mean, std, weight } = problem.rates
  const infoA = information(problem, state, a)
  const infoB = information(problem, state, b)
  const classesA = state.allowed[p]
  const classesB = state.allowed[q]
  const width = classesB.length + 1
  const offA = offLog(problem, state, a)
  const offB = offLog(problem, state, b)
  const onA = onLog(problem, state, a)
  const onB = onLog(problem, state, b)
  logs[0] = verdicts(problem, state, a, b, false, false) + offA + offB
  const onlyA = verdicts(problem, state, a, b, true, false) + onA + offB
  const onlyB = verdicts(problem, state, a, b, false, true) + offA + onB
  const both = verdicts(problem, state, a, b, true, true) + onA + onB
  for (let j = 1; j < width; j++) {
    const m = classesB[j - 1]
    looksB[j] = runLog(problem, b, m) + Math.log(weight[m])
    logs[j] = onlyB + looksB[j] + logRateEvidence(infoB.pull, infoB.hold, mean[m], std[m])
  }
  for (let i = 1; i <= classesA.length; i++) {
    const k = classesA[i - 1]
    const looksA = runLog(problem, a, k) + Math.log(weight[k])
    logs[i * width] = onlyA + looksA + logRateEvidence(infoA.pull, infoA.hold, mean[k], std[k])
    for (let j = 1; j < width; j++) {
      const m = classesB[j - 1]
      logs[i * width + j] =
        both +
        looksA +
        looksB[j] +
        logPairEvidence(infoA, infoB, cross, mean[k], std[k], mean[m], std[m], pair)
    }
  }
  const choice = drawLog(random, logs, (classesA.length + 1) * width)
  const i = Math.floor(choice / width)
  const j = choice % width
  if (i > 0 && j > 0) {
    const k = classesA[i - 1]
    const m = classesB[j - 1]
    logPairEvidence(infoA, infoB, cross, mean[k], std[k], mean[m], std[m], pair)
    const [pAA, pAB, pBB, centerA, centerB] = pair
    const rateA = centerA + normalDraw(random) / Math.sqrt(pAA - (pAB * pAB) / pBB)
    const rateB = centerB - (pAB / pBB) * (rateA - centerA) + normalDraw(random) / Math.sqrt(pBB)
    setStretch(state, a, k, Math.max(rateA, mean[k] * 1e-3))
    setStretch(state, b, m, Math.max(rateB, mean[m] * 1e-3))
  } else if (i > 0) {
    const k = classesA[i - 1]
    setStretch(state, a, k, drawRate(random, infoA.pull, infoA.hold, mean[k], std[k]))
  } else if (j > 0) {
    const m = classesB[j - 1]
    setStretch(state, b, m, drawRate(random, infoB.pull, infoB.hold, mean[m], std[m]))
  }
}

const mostClasses = 32
const logs = new Float64Array((mostClasses + 1) ** 2)
const looksB = new Float64Array(mostClasses + 1)
const pair = new Float64Array(5)

function drawStretch(state: LeakState, path: number, random: Random): Stretch {
  const epochs = state.epochs[path]
  if (epochs === 1) return { path, from: 0, to: 0 }
  const x = Math.floor(random() * epochs)
  const y = Math.floor(random() * epochs)
  return { path, from: Math.min(x, y), to: Math.max(x, y) }
}

/** True when the stretch is off throughout or exactly one run: what the move leaves, it can also find. */
function isWhole(state: LeakState, { path, from, to }: Stretch): boolean {
  const base = state.first[path]
  const on = state.rateClass[base + from] >= 0
  if (on && state.begins[base + from] === 0) return false
  for (let e = from + 1; e <= to; e++) {
    if (state.rateClass[base + e] >= 0 !== on) return false
    if (on && state.begins[base + e] === 1) return false
  }
  const after = base + to + 1
  const isLast = to === state.epochs[path] - 1
  return isLast || !on || state.rateClass[after] < 0 || state.begins[after] === 1
}

function clearStretch(state: LeakState, { path, from, to }: Stretch): void {
  clearSlots(state, state.first[path] + from, state.first[path] + to)
}

function setStretch(state: LeakState, { path, from, to }: Stretch, rateClass: number, rate: number): void {
  setRun(state, state.first[path] + from, state.first[path] + to, rateClass, rate)
}

function information(problem: LeakProblem, state: LeakState, { path, from, to }: Stretch): RateInformation {
  const info = { pull: 0, hold: 0 }
  for (let e = from; e <= to; e++)
    for (const { row, factor } of state.slotRows[state.first[path] + e]) {
      const precision = factor / problem.rows[row].stdMolPerS ** 2
      info.pull += precision * state.residual[row]
      info.hold += precision * factor
    }
  return info
}

function sharedPrecision(problem: LeakProblem, state: LeakState, a: Stretch, b: Stretch): number {
  let sum = 0
  for (let e = a.from; e <= a.to; e++)
    for (const mine of state.slotRows[state.first[a.path] + e])
      for (let f = b.from; f <= b.to; f++)
        for (const other of state.slotRows[state.first[b.path] + f])
          if (mine.row === other.row)
            sum += (mine.factor * other.factor) / problem.rows[mine.row].stdMolPerS ** 2
  return sum
}

function shareVerdict(state: LeakState, a: Stretch, b: Stretch): boolean {
  for (let e = a.from; e <= a.to; e++)
    for (const v of state.slotVerdicts[state.first[a.path] + e])
      for (let f = b.from; f <= b.to; f++)
        if (state.slotVerdicts[state.first[b.path] + f].includes(v)) return true
  return false
}

/** Log factor of every verdict row that sees either stretch. */
function verdicts(
  problem: LeakProblem,
  state: LeakState,
  a: Stretch,
  b: Stretch,
  aLeaks: boolean,
  bLeaks: boolean,
): number {
  if (problem.verdictRows.length === 0) return 0
  let log = 0
  const seen = new Set<number>()
  for (const [stretch, leaks] of [
    [a, aLeaks],
    [b, bLeaks],
  ] as const)
    for (let e = stretch.from; e <= stretch.to; e++)
      for (const v of state.slotVerdicts[state.first[stretch.path] + e]) {
        const other = stretch === a ? b : a
        const otherLeaks = stretch === a ? bLeaks : aLeaks
        const otherIn = problem.verdictRows[v].terms.some(
          (t) => t.path === other.path && t.epoch >= other.from && t.epoch <= other.to,
        )
        if (seen.has(v)) continue
        seen.add(v)
        const row = problem.verdictRows[v]
        const any = leaks || (otherIn && otherLeaks) || state.leaking[v] > 0
        const says = any ? row.detection : row.falseAlarm
        log += Math.log(row.leaks ? says : 1 - says)
      }
  return log
}

function neighbors(state: LeakState, { path, from, to }: Stretch): { before: boolean; after: boolean } {
  const base = state.first[path]
  return {
    before: from > 0 && state.rateClass[base + from - 1] >= 0,
    after: to < state.epochs[path] - 1 && state.rateClass[base + to + 1] >= 0,
  }
}

/** Log prior of the stretch being off, given what lies before and after it, with its looks. */
function offLog(problem: LeakProblem, state: LeakState, stretch: Stretch): number {
  const path = problem.paths[stretch.path]
  const { before, after } = neighbors(state, stretch)
  const { from, to } = stretch
  let log =
    from === 0
      ? Math.log(1 - path.prior)
      : Math.log(before ? path.breaks[from - 1].cure : 1 - path.breaks[from - 1].harm)
  for (let e = from; e <= to; e++) log += path.looks[e]?.[0] ?? 0
  for (let e = from; e < to; e++) log += Math.log(1 - path.breaks[e].harm)
  if (to < path.breaks.length) log += Math.log(after ? path.breaks[to].harm : 1 - path.breaks[to].harm)
  return log
}

/** Log prior of the stretch leaking as one run, without its looks. */
function onLog(problem: LeakProblem, state: LeakState, stretch: Stretch): number {
  const path = problem.paths[stretch.path]
  const { before, after } = neighbors(state, stretch)
  const { from, to } = stretch
  let log =
    from === 0
      ? Math.log(path.prior)
      : Math.log(before ? renewal(path.breaks[from - 1]) : path.breaks[from - 1].harm)
  for (let e = from; e < to; e++) log += Math.log(path.breaks[e].unchanged)
  if (to < path.breaks.length) log += Math.log(after ? renewal(path.breaks[to]) : path.breaks[to].cure)
  return log
}

/** Chance that a leak ends in a break of its path and another begins. */
function renewal({ cure, unchanged }: { readonly cure: number; readonly unchanged: number }): number {
  return Math.max(0, 1 - cure - unchanged)
}

function runLog(problem: LeakProblem, { path, from, to }: Stretch, rateClass: number): number {
  let log = 0
  for (let e = from; e <= to; e++) log += problem.paths[path].looks[e]?.[rateClass + 1] ?? 0
  return log
}
