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

/** Place in P of the covariance of two states: the upper triangle. */
function covariance(r: number, c: number): number {
  return r < c ? r * stride + c : c * stride + r
}

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
  for (let k = 0; k < live; k++) {
    const a = P[k]
    const b = P[k + stride]
    const c = P[k + 2 * stride]
    const e = P[k + 3 * stride]
    const m = P[k + 4 * stride]
    const l = P[covariance(k, state.leak)]
    P[k] = w0 * a + w1 * b + w2 * c
    P[k + stride] = b + d * c
    P[k + 3 * stride] = g0 * a + g1 * b + g2 * c + g3 * e + g6 * l
    P[k + 4 * stride] = m0 * a + m1 * b + m2 * c + m3 * e + m4 * m + m6 * l
  }
  for (let k = 0; k < moving * stride; k += stride) {
    const a = P[k]
    const b = P[k + 1]
    const c = P[k + 2]
    const e = P[k + 3]
    const m = P[k + 4]
    const l = P[k + state.leak]
    P[k] = w0 * a + w1 * b + w2 * c
    P[k + 1] = b + d * c
    P[k + 3] = g0 * a + g1 * b + g2 * c + g3 * e + g6 * l
    P[k + 4] = m0 * a + m1 * b + m2 * c + m3 * e + m4 * m + m6 * l
  }
}

/** Adds a state to those seen by the next reading. */
export function addObserved(one: number, factor: number): void {
  states[seen.count] = one
  factors[seen.count++] = factor
}

/** Updates the first `live` states with a reading of those shown; returns its log-likelihood. */
export function observe(reading: number, variance: number, live: number): number {
  const { count } = seen
  let innovation = reading
  let spread = variance
  for (let q = 0; q < count; q++) innovation -= factors[q] * x[states[q]]
  if (states[0] === state.drift) coverGauge(live)
  else {
    const shown = states[0]
    const factor = factors[0]
    for (let r = 0; r < live; r++) gain[r] = factor * P[covariance(r, shown)]
    for (let q = 1; q < count; q++) cover(q, live)
  }
  for (let q = 0; q < count; q++) spread += factors[q] * gain[states[q]]
  const share = innovation / spread
  const g0 = gain[0]
  const g1 = gain[1]
  const g2 = gain[2]
  const g3 = gain[3]
  const g4 = gain[4]
  const g5 = gain[5]
  const g6 = gain[6]
  const g7 = gain[7]
  const g8 = gain[8]
  const g9 = gain[9]
  const g10 = gain[10]
  const g11 = gain[11]
  // Written out: short inner loops take twice the time. Left of the diagonal, a state that stays is never read.
  for (let r = 0, k = 0; r < live; r++, k += stride) {
    const f = gain[r] / spread
    x[r] += gain[r] * share
    if (r < moving) {
      P[k] -= f * g0
      P[k + 1] -= f * g1
      P[k + 2] -= f * g2
      P[k + 3] -= f * g3
      P[k + 4] -= f * g4
    }
    if (r < everyHold) {
      P[k + 5] -= f * g5
      P[k + 6] -= f * g6
      P[k + 7] -= f * g7
      P[k + 8] -= f * g8
      P[k + 9] -= f * g9
    }
    if (live > everyHold) {
      P[k + 10] -= f * g10
      P[k + 11] -= f * g11
      for (let c = 12; c < live; c++) P[k + c] -= f * gain[c]
    }
  }
  last[0] = innovation
  last[1] = spread
  return -0.5 * (Math.log(spread) + innovation * share)
}

/** Adds the covariance with one of the states seen. */
function cover(q: number, live: number): void {
  const shown = states[q]
  const factor = factors[q]
  for (let r = 0, k = shown; r < shown; r++, k += stride) gain[r] += factor * P[k]
  for (let r = shown, k = shown * stride + shown; r < live; r++, k++) gain[r] += factor * P[k]
}

/** States that every hold has. The gauge sees of them: drift, leak, level, creep, logCreep and gas, in this order. */
const everyHold = 10

/** The covariance with what the gauge sees: the sums of `cover`, term by term in the same order. */
function coverGauge(live: number): void {
  const [drift, leak, level, creep, logCreep, gas] = factors
  for (let r = 0; r < live; r++)
    gain[r] =
      drift * P[covariance(r, state.drift)] +
      leak * P[covariance(r, state.leak)] +
      level * P[covariance(r, state.level)] +
      creep * P[covariance(r, state.creep)] +
      logCreep * P[covariance(r, state.logCreep)] +
      gas * P[covariance(r, state.gas)]
  for (let q = 6; q < seen.count; q++) cover(q, live)
}
