import {
  addObserved,
  gain,
  last,
  observe,
  P,
  propagateCovariance,
  seen,
  state,
  stride,
  transition,
  x,
} from './filter-step.ts'
import type { GasRows } from './gas-rows.ts'
import { type HoldColumns, holdColumns } from './hold-columns.ts'
import { constants, type HoldConstants } from './hold-constants.ts'
import { type HoldBeliefs, type HoldShape, shapeAt } from './hold-model.ts'

/** Outputs of a pass per row: innovation and variance of gauge, thermometer and vessel. */
export const innovationsARow = 6
/** Gauge, thermometer, reference vessel. */
const sensors = 3

const square = (x: number): number => x * x

/**
 * One state-space model of a hold: pressure, thermometer and reference vessel are outputs of one Kalman filter, from the end
 * of pump-up to the vent. A line full of fuel has another pressure equation (`liquidColumns`) and the same thermal model.
 *
 * ln p = level + s·G + D + λ·leak(t) − s·creep(t) + fast transients; ln T = gain·M; ln p_vessel = its level + G + its own error.
 * dR = V dt + w, dV = w, dW = (R − W)/τ_w, dM = (g·G + (1 − g)·W − M)/τ_m,
 * dG = −(G − W)(|G − W| + 0.05 K)^e/τ + chill·s·dλ: the mean follows the nonlinear flow, the covariance its linearization.
 *
 * *Source* docs/method.md section 2; Anderson & Moore, Optimal Filtering, extended filter and Bryson–Frazier smoother (from memory).
 */
export function holdFilter(rows: GasRows, beliefs: HoldBeliefs, c: HoldConstants = constants) {
  const { thermometer, thermometerVariance, vessel } = rows
  const count = rows.fromS.length
  const middleS = rows.fromS.map((from, i) => (from + rows.toS[i]) / 2)
  const spanS = rows.toS[count - 1]
  const middling = Float64Array.from(rows.variance).sort()[count >> 1]
  const walkUnit = middling / (spanS - rows.fromS[0])
  const lasting = vessel === null ? state.vesselLevel : state.weatherRate + 1
  const size = lasting + 2
  /** Active states: decayed transients are dropped. */
  let live = size
  const { sort } = beliefs
  const [fastTau, slowTau] = c.transientTauS
  const fast = middleS.map((at) => Math.exp(-at / fastTau))
  const slow = middleS.map((at) => Math.exp(-at / slowTau))
  const logSpan = Math.log1p(spanS / c.creepLogS)
  const logCreep = middleS.map((at) => -Math.log1p(at / c.creepLogS) / logSpan)
  const creep = new Float64Array(count)
  let creepTauS = 0
  const stepS = middleS.map((at, i) => at - (i > 0 ? middleS[i - 1] : 0))
  const wallTauS = c.wallTauS[sort]
  const wallKept = stepS.map((d) => Math.exp(-d / wallTauS))
  const wallTurn = stepS.map((d, i) => (1 - (wallTauS * (1 - wallKept[i])) / d) * d)
  const columnsOf = holdColumns(rows, beliefs, c)
  let columns!: HoldColumns
  const lateFromS = rows.holdFromS + c.heatIsLate * (spanS - rows.holdFromS)
  const lateFrom = rows.toS.findIndex((to) => to > lateFromS)
  const lateScale = rows.statedHoldS / (spanS - Math.max(0, rows.holdFromS))

  function start(shape: HoldShape): void {
    const heat = beliefs.fullHeat
    live = size
    x.fill(0)
    P.fill(0)
    const wall = square(c.startWall)
    // In a still room all initial differences shrink; a gas is insensitive to this.
    const still = beliefs.line === null ? 1 : Math.min(1, shape.rough)
    const room = square(still * c.startRoom) + square(c.startRoomHeat * heat)
    const gas =
      square(c.startGas[0] * shape.pumpHeat) +
      square(c.startGas[1] * heat) +
      square(still * c.startContents[sort])
    const g = shape.gasShare
    const set = (a: number, b: number, value: number): void => {
      P[a * stride + b] = value
      P[b * stride + a] = value
    }
    set(state.room, state.room, wall)
    set(state.wall, state.room, wall)
    set(state.wall, state.wall, wall + room)
    set(state.roomSlope, state.roomSlope, square(still * c.roomSlopePerS))
    set(state.gas, state.wall, wall + room)
    set(state.gas, state.room, wall)
    set(state.gas, state.gas, wall + room + gas)
    set(state.thermometer, state.wall, wall + room)
    set(state.thermometer, state.room, wall)
    set(state.thermometer, state.gas, wall + room + g * gas)
    const own = square(c.startThermometer) + square(c.startFelt * g * heat)
    set(state.thermometer, state.thermometer, wall + room + g * g * gas + own)
    x[state.gas] = shape.pumpHeat
    x[state.thermometer] = g * shape.pumpHeat
    set(state.leak, state.leak, square(c.leakSize[sort] * beliefs.dropStd))
    set(state.level, state.level, c.level[sort] ** 2)
    set(state.creep, state.creep, square(shape.creep))
    set(state.logCreep, state.logCreep, square(c.creepLogShare * shape.creep))
    x[state.creep] = 0.3 * shape.creep * Math.sign(beliefs.creepScale)
    set(lasting, lasting, square(c.transient * beliefs.dropStd))
    set(lasting + 1, lasting + 1, square(c.transient * beliefs.dropStd))
    if (vessel !== null) {
      set(state.vesselLevel, state.vesselLevel, 0.05 ** 2)
      set(state.weatherRate, state.weatherRate, square(vessel.weatherStdPerS))
      set(state.vesselGas, state.vesselGas, square(c.vesselHeat * shape.pumpHeat) + square(0.01 * heat))
    }
  }

  function advance(i: number, shape: HoldShape): void {
    const d = stepS[i]
    if (!(d > 0)) {
      transition.fill(0)
      return
    }
    const wall = x[0]
    const gas = x[3]
    const gapK = Math.abs(gas - wall) * rows.temperatureK
    const off = gapK + c.stillK
    const flow = off ** shape.slowing / shape.gasTauS
    const slope = flow * (1 + (shape.slowing * gapK) / off)
    const kept = Math.exp(-flow * d)
    const ramp = 1 - (1 - kept) / (flow * d)
    const keptSlope = Math.exp(-slope * d)
    const rampSlope = 1 - (1 - keptSlope) / (slope * d)
    const restSlope = 1 - keptSlope - rampSlope
    const w0 = wallKept[i]
    const w1 = 1 - w0
    const w2 = wallTurn[i]
    const m4 = Math.exp(-d / shape.thermometerTauS)
    const late = 1 - (shape.thermometerTauS * (1 - m4)) / d
    const soon = 1 - m4 - late
    const g = shape.gasShare
    const { stiffness, leak, chill } = columns
    const g6 = i > 0 ? chill * stiffness[i] * (leak[i] - leak[i - 1]) : 0
    const g0 = restSlope + rampSlope * w0
    transition[0] = w0
    transition[1] = w1
    transition[2] = w2
    transition[3] = d
    transition[4] = g0
    transition[5] = rampSlope * w1
    transition[6] = rampSlope * w2
    transition[7] = keptSlope
    transition[8] = g6
    transition[9] = soon * (1 - g) + late * ((1 - g) * w0 + g * g0)
    transition[10] = late * ((1 - g) * w1 + g * transition[5])
    transition[11] = late * ((1 - g) * w2 + g * transition[6])
    transition[12] = soon * g + late * g * keptSlope
    transition[13] = m4
    transition[14] = late * g * g6
    x[0] = w0 * wall + w1 * x[1] + w2 * x[2]
    x[1] += d * x[2]
    x[3] = (1 - kept - ramp) * wall + ramp * x[0] + kept * gas + g6 * x[state.leak]
    x[4] = m4 * x[4] + soon * ((1 - g) * wall + g * gas) + late * ((1 - g) * x[0] + g * x[3])
    propagateCovariance(live)
    if (columns.stroked?.[i]) P[state.level * stride + state.level] += square(c.level[sort])
    const turning = square(shape.rough * c.roomSlopeWalk) / 1000
    const rough = square(shape.rough * c.roomWalk)
    P[2 * stride + 2] += turning * d
    P[stride + 2] += (turning * d * d) / 2
    P[2 * stride + 1] += (turning * d * d) / 2
    P[stride + 1] += (turning * d ** 3) / 3 + rough * d
    P[0] += 0.04 * rough * d
    // The wall is not uniform: a share of its swing is model error, in the gas (decaying) and as drift (permanent).
    const rate = (x[0] - wall) / d
    P[3 * stride + 3] += square(shape.gasError * (gas - wall)) * (1 - kept)
    P[5 * stride + 5] +=
      square(c.swingError * columns.swing * rate) * d * c.swingTauS[sort] + square(shape.walk) * walkUnit * d
    if (vessel === null) return
    const own = state.vesselGas
    x[own] *= kept
    for (let k = 0; k <= own; k++) P[k * stride + own] *= keptSlope
    for (let k = own; k < size; k++) P[own * stride + k] *= keptSlope
    P[own * stride + own] += square(c.vesselSwing * rate) * d * shape.gasTauS
  }

  /** Updates with a sensor's reading in a row; returns its log-likelihood, or NaN without a reading. */
  function taken(sensor: number, i: number, shown: number): number {
    seen.count = 0
    if (sensor === 0) {
      const s = columns.stiffness[i]
      addObserved(state.drift, 1)
      addObserved(state.leak, columns.leak[i])
      addObserved(state.level, 1)
      addObserved(state.creep, s * creep[i])
      addObserved(state.logCreep, s * logCreep[i])
      addObserved(state.gas, s)
      if (slow[i] > 1e-5) {
        addObserved(lasting, fast[i])
        addObserved(lasting + 1, slow[i])
      } else live = lasting
      if (vessel !== null && !rows.absolute) addObserved(state.weatherRate, middleS[i])
      return observe(columns.response[i], columns.white[i], live)
    }
    if (sensor === 1) {
      if (thermometer === null || Number.isNaN(thermometer[i])) return Number.NaN
      addObserved(state.thermometer, shown)
      return observe(thermometer[i], thermometerVariance[i], live)
    }
    if (vessel === null) return Number.NaN
    addObserved(state.gas, 1)
    addObserved(state.vesselLevel, 1)
    addObserved(state.vesselGas, 1)
    addObserved(state.weatherRate, vessel.ratio * middleS[i])
    return observe(vessel.logPressure[i], vessel.variance[i], live)
  }

  function shaped(u: Float64Array): HoldShape {
    const shape = shapeAt(u, beliefs, spanS, c)
    columns = columnsOf(shape)
    if (shape.creepTauS !== creepTauS) {
      creepTauS = shape.creepTauS
      for (let i = 0; i < count; i++) creep[i] = Math.expm1(-middleS[i] / creepTauS)
    }
    start(shape)
    return shape
  }

  /**
   * Leak estimate given a shape.
   *
   * @param innovations receives e and S of each row's outputs; S is 0 where there is no reading
   */
  function pass(u: Float64Array, innovations: Float64Array | null) {
    const shape = shaped(u)
    let logLikelihood = columns.logJacobian
    let lateGap = 0
    for (let i = 0; i < count; i++) {
      advance(i, shape)
      for (let sensor = 0; sensor < sensors; sensor++) {
        const log = taken(sensor, i, shape.gain)
        if (Number.isNaN(log)) continue
        logLikelihood += log
        if (innovations === null) continue
        const k = innovationsARow * i + 2 * sensor
        innovations[k] = last[0]
        innovations[k + 1] = last[1]
      }
      if (i === lateFrom) lateGap = x[state.gas] - x[state.wall]
    }
    return {
      logLikelihood,
      /** Drop of ln p in the stated hold time at the stated pressure. */
      mean: x[state.leak],
      variance: P[state.leak * stride + state.leak],
      /** Fall of ln p by the pump-up heat after the first part of the hold, in the stated hold time. */
      lateHeat: columns.stiffness[count - 1] * (lateGap - x[state.gas] + x[state.wall]) * lateScale,
      /** Uncertainty unobservable in the pass, added to the leak. */
      unseenStd: columns.unseenStd,
    }
  }

  /** Smoothed states of a hold, with their inputs. */
  function smooth(u: Float64Array) {
    const shape = shaped(u)
    const trace = Array.from(stepS, (_, i) => {
      advance(i, shape)
      const readings = [...Array(sensors).keys()].flatMap((sensor) => {
        if (Number.isNaN(taken(sensor, i, shape.gain))) return []
        const at = seen.states.slice(0, seen.count)
        const by = seen.factors.slice(0, seen.count)
        return [{ at, by, gain: gain.slice(), innovation: last[0], spread: last[1] }]
      })
      return { transition: transition.slice(), readings, x: x.slice(), P: P.slice() }
    })
    /** The part of the response that is neither level nor leak. */
    const causes = new Float64Array(count)
    const leakLine = new Float64Array(count)
    const back = new Float64Array(size)
    const smoothed = new Float64Array(size)
    for (let i = count - 1; i >= 0; i--) {
      const { transition: gone, readings, x: filtered, P: covariance } = trace[i]
      for (let r = 0; r < size; r++) {
        let sum = filtered[r]
        for (let k = 0; k < size; k++) sum -= covariance[Math.min(r, k) * stride + Math.max(r, k)] * back[k]
        smoothed[r] = sum
      }
      const s = columns.stiffness[i]
      leakLine[i] = smoothed[state.level] + smoothed[state.leak] * columns.leak[i]
      causes[i] =
        s *
          (smoothed[state.gas] + creep[i] * smoothed[state.creep] + logCreep[i] * smoothed[state.logCreep]) +
        fast[i] * smoothed[lasting] +
        slow[i] * smoothed[lasting + 1]
      for (const reading of readings.reverse()) {
        let sum = reading.innovation
        for (let r = 0; r < size; r++) sum += reading.gain[r] * back[r]
        for (let q = 0; q < reading.at.length; q++)
          back[reading.at[q]] -= (reading.by[q] * sum) / reading.spread
      }
      const [b0, b1, , b3, b4] = back
      back[0] = gone[0] * b0 + gone[4] * b3 + gone[9] * b4
      back[1] = gone[1] * b0 + b1 + gone[5] * b3 + gone[10] * b4
      back[2] += gone[2] * b0 + gone[3] * b1 + gone[6] * b3 + gone[11] * b4
      back[3] = gone[7] * b3 + gone[12] * b4
      back[4] = gone[13] * b4
      back[6] += gone[8] * b3 + gone[14] * b4
      if (vessel !== null) back[state.vesselGas] *= gone[7]
    }
    return { shape, response: columns.response, causes, leakLine, walkPerS: square(shape.walk) * walkUnit }
  }

  return { pass, smooth }
}

type HoldFilter = ReturnType<typeof holdFilter>
export type HoldAnswer = Readonly<ReturnType<HoldFilter['pass']>>
export type HoldPath = Readonly<ReturnType<HoldFilter['smooth']>>
