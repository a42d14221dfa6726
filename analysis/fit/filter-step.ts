/** The states: temperatures as ln T about their mean, everything else as ln p. The gauge's two fast transients come last. */
export const state = {
  wall: 0,
  room: 1,
  roomSlope: 2,
  gas: 3,
  thermometer: 4,
  drift: 5,
  leak: 6,
  level: 7,
  creep: 8,
  logCreep: 9,
  /** With a reference vessel: its level, the deviation of its gas from the section's, and the rate of unmeasured weather. */
  vesselLevel: 10,
  vesselGas: 11,
  weatherRate: 12,
} as const

/** States 0 to 4 move by the transition; of the others each keeps its value. */
const moving = 5

/** Entries from one row of P to the next. */
export const stride = 16

// The running step of a filter, shared by all: passes never overlap, and the compiler treats arrays of a module as
// constants, which saves a third of the time.
export const x = new Float64Array(stride)
/** Covariance by rows: all of those of the states that move, of the rest the upper triangle. */
export const P = new Float64Array(stride * stride)
/** Entries of the transition F that are neither 0 nor 1: of the wall, the room, the gas and the thermometer. */
export const transition = new Float64Array(15)
/** States seen by a reading, and the factor of each. */
export const seen = { states: new Int32Array(stride), factors: new Float64Array(stride), count: 0 }
/** Covariance of the last reading and the states; its innovation and variance. */
export const gain = new Float64Array(stride)
export const last = new Float64Array(2)

const { states, factors } = seen

/** P := F·P·Fᵀ for the first `live` states: down each column, then along the rows of those that move. */
export function propagateCovariance(live: number): void {
  const w0 = transition[0]
  const w1 = transition[1]
  const w2 = transition[2]
  const d = transition[3]
  const g0 = transition[4]
  const g1 = transition[5]
  const g2 = transition[6]
  const g3 = transition[7]
  const g6 = transition[8]
  const m0 = transition[9]
  const m1 = transition[10]
  const m2 = transition[11]
  const m3 = transition[12]
  const m4 = transition[13]
  const m6 = transition[14]
  for (let n = 0; n < live + moving; n++) {
    const down = n < live
    const k = down ? n : (n - live) * stride
    const apart = down ? stride : 1
    const a = P[k]
    const b = P[k + apart]
    const c = P[k + 2 * apart]
    const e = P[k + 3 * apart]
    const m = P[k + 4 * apart]
    const l = P[!down ? k + state.leak : n < state.leak ? n * stride + state.leak : state.leak * stride + n]
    P[k] = w0 * a + w1 * b + w2 * c
    P[k + apart] = b + d * c
    P[k + 3 * apart] = g0 * a + g1 * b + g2 * c + g3 * e + g6 * l
    P[k + 4 * apart] = m0 * a + m1 * b + m2 * c + m3 * e + m4 * m + m6 * l
  }
}

/** Adds a state to those seen by the next reading. */
export function addObserved(state: number, factor: number): void {
  states[seen.count] = state
  factors[seen.count++] = factor
}

/** Updates the first `live` states with a reading of those shown; returns its log-likelihood. */
export function observe(reading: number, variance: number, live: number): number {
  const { count } = seen
  let innovation = reading
  let spread = variance
  for (let r = 0; r < live; r++) gain[r] = 0
  for (let q = 0; q < count; q++) {
    const factor = factors[q]
    const shown = states[q]
    innovation -= factor * x[shown]
    for (let r = 0, k = shown; r < shown; r++, k += stride) gain[r] += factor * P[k]
    for (let r = shown, k = shown * stride + shown; r < live; r++, k++) gain[r] += factor * P[k]
  }
  for (let q = 0; q < count; q++) spread += factors[q] * gain[states[q]]
  const share = innovation / spread
  for (let r = 0; r < live; r++) {
    const f = gain[r] / spread
    x[r] += gain[r] * share
    for (let c = r < moving ? 0 : r, k = r * stride + c; c < live; c++, k++) P[k] -= f * gain[c]
  }
  last[0] = innovation
  last[1] = spread
  return -0.5 * (Math.log(spread) + innovation * share)
}
