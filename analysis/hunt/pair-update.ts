import type { LeakProblem } from './leak-problem.ts'
import { clearSlots, type LeakState, setRun } from './leak-state.ts'
import { drawRate } from './path-update.ts'
import { normalDraw, type Random } from './random.ts'
import { logPairEvidence, type RateInformation } from './rate-evidence.ts'

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

  const { mean, std } = problem.rates
  const infoA = information(problem, state, a)
  const infoB = information(problem, state, b)
  const classesA = state.allowed[p]
  const classesB = state.allowed[q]
  const width = classesB.length + 1
  const offA = offLog(problem, state, a)
  const offB = offLog(problem, state, b)
  const onA = onLog(problem, state, a)
  const onB = onLog(problem, state, b)
  const onlyA = verdicts(problem, state, a, b, true, false) + onA + offB
  const onlyB = verdicts(problem, state, a, b, false, true) + offA + onB
  const both = verdicts(problem, state, a, b, true, true) + onA + onB
  weighClasses(problem, a, classesA, infoA, ofA)
  weighClasses(problem, b, classesB, infoB, ofB)
  logs[0] = verdicts(problem, state, a, b, false, false) + offA + offB
  determinants[0] = 1
  for (let j = 1; j < width; j++) {
    logs[j] = onlyB + ofB.log[j - 1] + (0.5 * ofB.right[j - 1] ** 2) / ofB.hold[j - 1]
    determinants[j] = ofB.hold[j - 1]
  }
  for (let i = 0; i < classesA.length; i++) {
    const holdA = ofA.hold[i]
    const rightA = ofA.right[i]
    const row = (i + 1) * width
    logs[row] = onlyA + ofA.log[i] + (0.5 * rightA ** 2) / holdA
    determinants[row] = holdA
    const together = both + ofA.log[i]
    const crossA = cross * std[classesA[i]]
    // As `logPairEvidence`, a root in place of a logarithm: this is where the sampler's time goes.
    for (let j = 0; j < classesB.length; j++) {
      const shared = crossA * std[classesB[j]]
      const holdB = ofB.hold[j]
      const rightB = ofB.right[j]
      const determinant = holdA * holdB - shared * shared
      const squares = holdB * rightA * rightA - 2 * shared * rightA * rightB + holdA * rightB * rightB
      logs[row + j + 1] = together + ofB.log[j] + (0.5 * squares) / determinant
      determinants[row + j + 1] = determinant
    }
  }
  const choice = drawPair(random, (classesA.length + 1) * width)
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
/** Log weights of all pairs of classes, each without half the logarithm of the determinant beside it. */
const logs = new Float64Array((mostClasses + 1) ** 2)
const determinants = new Float64Array((mostClasses + 1) ** 2)
const pair = new Float64Array(5)

/** What looks and sums say of a leak of each class, its rate in units of the class's own spread. */
interface ClassEvidence {
  /** Log weight before the sums, with the part of their evidence that they do not touch. */
  readonly log: Float64Array
  readonly hold: Float64Array
  readonly right: Float64Array
}

const ofA = classEvidence()
const ofB = classEvidence()

function classEvidence(): ClassEvidence {
  const column = (): Float64Array => new Float64Array(mostClasses)
  return { log: column(), hold: column(), right: column() }
}

function weighClasses(
  problem: LeakProblem,
  stretch: Stretch,
  classes: readonly number[],
  { pull, hold }: RateInformation,
  out: ClassEvidence,
): void {
  const { mean, std, weight } = problem.rates
  for (let i = 0; i < classes.length; i++) {
    const k = classes[i]
    const middle = mean[k] / std[k]
    out.log[i] = runLog(problem, stretch, k) + Math.log(weight[k]) - 0.5 * middle * middle
    out.hold[i] = 1 + hold * std[k] * std[k]
    out.right[i] = middle + pull * std[k]
  }
}

/** Index below `count` drawn with probability proportional to exp(log)/√determinant. Leaves running sums in `logs`. */
function drawPair(random: Random, count: number): number {
  let highest = 0
  for (let i = 1; i < count; i++) if (logs[i] > logs[highest]) highest = i
  const top = logs[highest]
  // Lighter than e^-40 of that one is never drawn; determinants are 1 or more.
  const least = top - 0.5 * Math.log(determinants[highest]) - 40
  let sum = 0
  for (let i = 0; i < count; i++) {
    if (logs[i] > least) sum += Math.exp(logs[i] - top) / Math.sqrt(determinants[i])
    logs[i] = sum
  }
  const at = random() * sum
  let i = 0
  while (i < count - 1 && logs[i] <= at) i++
  return i
}

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
