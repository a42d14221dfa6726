import type { LeakProblem } from './leak-problem.ts'
import { possibleClasses } from './leak-problem.ts'

/**
 * The state of a sampler: each path's history laid out in slots, one a path and epoch, with what every measured sum
 * still leaves to explain. Flat arrays, because the sampler touches them millions of times.
 */
export interface LeakState {
  readonly first: Int32Array
  readonly epochs: Int32Array
  /** Rate class of a slot, −1 when it does not leak. */
  readonly rateClass: Int32Array
  readonly rate: Float64Array
  /** 1 where a run begins. */
  readonly begins: Uint8Array
  /** Measured sum less the leaks of the state. */
  readonly residual: Float64Array
  /** Leaking slots in each verdict row. */
  readonly leaking: Int32Array
  readonly slotRows: readonly (readonly { readonly row: number; readonly factor: number }[])[]
  readonly slotVerdicts: readonly (readonly number[])[]
  readonly allowed: readonly (readonly number[])[]
}

/** A state in which nothing leaks. */
export function tightState(problem: LeakProblem): LeakState {
  const epochs = Int32Array.from(problem.paths, (p) => p.breaks.length + 1)
  const first = new Int32Array(epochs.length)
  for (let p = 1; p < epochs.length; p++) first[p] = first[p - 1] + epochs[p - 1]
  const slots = epochs.reduce((sum, n) => sum + n, 0)
  const slotRows = Array.from({ length: slots }, () => [] as { row: number; factor: number }[])
  const slotVerdicts = Array.from({ length: slots }, () => [] as number[])
  problem.rows.forEach((row, r) => {
    for (const t of row.terms) slotRows[first[t.path] + t.epoch].push({ row: r, factor: t.factor })
  })
  problem.verdictRows.forEach((row, v) => {
    for (const t of row.terms) slotVerdicts[first[t.path] + t.epoch].push(v)
  })
  return {
    first,
    epochs,
    rateClass: new Int32Array(slots).fill(-1),
    rate: new Float64Array(slots),
    begins: new Uint8Array(slots),
    residual: Float64Array.from(problem.rows, (row) => row.molPerS),
    leaking: new Int32Array(problem.verdictRows.length),
    slotRows,
    slotVerdicts,
    allowed: problem.paths.map((_, p) => possibleClasses(problem, p)),
  }
}

/** Sets a run of slots leaking at one rate. They must be off. */
export function setRun(state: LeakState, from: number, to: number, rateClass: number, rate: number): void {
  for (let slot = from; slot <= to; slot++) {
    state.rateClass[slot] = rateClass
    state.rate[slot] = rate
    state.begins[slot] = slot === from ? 1 : 0
    for (const { row, factor } of state.slotRows[slot]) state.residual[row] -= factor * rate
    for (const v of state.slotVerdicts[slot]) state.leaking[v]++
  }
}

/** Sets slots off, leaking or not. */
export function clearSlots(state: LeakState, from: number, to: number): void {
  for (let slot = from; slot <= to; slot++) {
    if (state.rateClass[slot] < 0) continue
    for (const { row, factor } of state.slotRows[slot]) state.residual[row] += factor * state.rate[slot]
    for (const v of state.slotVerdicts[slot]) state.leaking[v]--
    state.rateClass[slot] = -1
    state.rate[slot] = 0
    state.begins[slot] = 0
  }
}
