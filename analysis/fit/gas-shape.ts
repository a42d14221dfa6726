import { driftFilteredSums } from './drift-filter.ts'
import {
  baseColumns,
  type GasColumns,
  type GasRows,
  type GasShape,
  place,
  type ResponseNoise,
} from './gas-columns.ts'
import { type StretchBelief, stiffnessOf } from './gas-priors.ts'
import type { GasSetting } from './gas-setting.ts'
import { gasNode } from './gas-solution.ts'

/** Size of the noise of a node: white noise scale and random walk, [1/s] of variance of ln p. */
export interface NoiseSize {
  readonly whiteScale: number
  readonly walkPerS: number
  readonly weight: number
}

/** The creep that stands beside heat and leak while their sizes are sought: a quicker one would be taken for the heat. */
const creepBeside = 2
/** Places of the columns that stand beside it. */
const bases = Array.from({ length: baseColumns }, (_, column) => column)
/** Most and least that the gas can swing over the thermometer. Own figure. */
const mostGain = 4
/** How near the heat that is found has to come to the one that was assumed, as a share: at first, and after some rounds. */
const nearly = 0.02
const roughly = 0.1
/** Share of the heat still to go by which its way may differ from the model's. */
const heatError = 0.01
/** Share of the wall's temperature changes that may not reach the gas as modelled. */
const swingError = 0.005

/** A shape's columns and response, the response freed of what is not linear in the pump-up heat. */
export interface ShapeColumns {
  readonly shape: GasShape
  readonly stretch: StretchBelief
  /** Regressors and, last, the response. */
  readonly columns: Float64Array[]
  readonly extraWalk: Float64Array
  readonly variance: Float64Array
  readonly thermal: ResponseNoise['thermal']
}

/**
 * Columns of a shape. What is not linear in the pump-up heat, the leak's own cooling and its flow law is taken off the response at the
 * sizes that the solution itself finds, by turns.
 *
 * @param walk variance that the error of the thermal model adds from row to row, or null to take this shape's own
 * @returns null when no amplitude agrees with itself: the shape cannot be true
 */
export function shapeColumns(
  { rows, beliefs, filterOf, priorsOf }: GasSetting,
  shape: GasShape,
  columnsOf: GasColumns,
  noise: NoiseSize,
  walk: Float64Array | null,
): ShapeColumns | null {
  const { response } = columnsOf
  const stretch = beliefs.stretch.find((s) => s.perPa === shape.stretchPerPa) as StretchBelief
  let amplitude = beliefs.fullHeat * 0.2
  let drop = 0
  let gain = 1
  let noiseOf = columnsOf.noiseAt(gain)
  const slope = columnsOf.regressors[place.law]
  const law = new Float64Array(slope.length)
  const freed = new Float64Array(slope.length)
  const shaped = (): ShapeColumns => {
    const { heat, leak, bend } = columnsOf.heatAt(amplitude, drop)
    const regressors = [...columnsOf.regressors]
    regressors[place.heat] = heat
    regressors[place.leak] = leak
    for (let i = 0; i < slope.length; i++) {
      law[i] = drop * slope[i]
      freed[i] = response[i] - bend[i]
    }
    regressors[place.law] = law
    const extraWalk = walk ?? thermalWalk(rows, shape, heat, amplitude)
    return {
      shape,
      stretch,
      columns: [...regressors, freed],
      extraWalk,
      ...noiseOf,
    }
  }
  // Beside a thermometer in the gas no heat is left to seek, and the spread of the flow law is not tried: with a creep it
  // would stand in for the heat that a thermometer on the wall does not show.
  const gas = shape.thermometer === 'gas'
  if (gas) amplitude = 0
  const sign = beliefs.fullHeat < 0 ? -1 : 1
  const most = 1.5 * Math.abs(beliefs.fullHeat)
  const mostDrop = 0.5 * beliefs.dropStd
  const sought = [...bases, baseColumns + creepBeside, columnsOf.regressors.length]
  const sums = new Float64Array(sought.length ** 2)
  const [prior] = priorsOf(stretch, shape.thermometer)
  // The heat found where its limit held it back the round before.
  let heldBack: number | null = null
  for (let round = 0; round < 9; round++) {
    const made = shaped()
    const columns = sought.map((column) => made.columns[column])
    driftFilteredSums(columns, filterOf(made.variance, made.extraWalk, noise), sums)
    const node = gasNode(sums, columns.length, prior)
    if (!node?.withCreep(0)) return null
    const solution = node.solve()
    if (gas) {
      const felt = Math.min(mostGain, Math.max(1 / mostGain, solution[place.temperature]))
      const agrees = Math.abs(felt - gain) < 0.02 * gain
      gain = felt
      noiseOf = columnsOf.noiseAt(gain)
      if (agrees) return shaped()
      continue
    }
    const found = solution[place.heat]
    const apart = Math.abs(found - amplitude)
    if (apart < (round < 5 ? nearly : roughly) * Math.abs(found) + 1e-5) return made
    // The heat cannot exceed an adiabatic pump-up's by far; beyond, the straightened columns mean nothing.
    const next = sign * Math.min(most, Math.max(-most / 3, sign * found))
    if (next !== amplitude) heldBack = null
    else {
      // Held back again, only the leak still moves, by half as much each round: where the heat hardly follows it, no round
      // to come brings it near.
      const missing = apart - roughly * Math.abs(found) - 1e-5
      if (heldBack !== null && Math.abs(found - heldBack) < missing / 4) return null
      heldBack = found
    }
    const leaking = Math.min(mostDrop, Math.max(-mostDrop, solution[place.leak]))
    amplitude = round < 2 ? next : (amplitude + next) / 2
    drop = round < 2 ? leaking : (drop + leaking) / 2
  }
  return null
}

/**
 * Variance that the walk gains between rows because no thermal model is exact: wherever the modelled gas temperature
 * changes, a share of what is still to come of the change goes astray.
 */
function thermalWalk(rows: GasRows, shape: GasShape, heat: Float64Array, amplitude: number): Float64Array {
  const theta = rows.logTemperature
  const last = theta.length - 1
  const out = new Float64Array(theta.length)
  const cooling = 2 * heatError ** 2
  const felt = stiffnessOf(shape.stretchPerPa, rows.testPa, rows.testGaugePa)
  for (let i = 1; i < out.length; i++) {
    const heatLeft = amplitude * heat[i]
    out[i] = cooling * Math.abs(heatLeft * amplitude * (heat[i - 1] - heat[i]))
    const change = Math.abs(theta[i] - theta[i - 1])
    const left = Math.abs(theta[i] - theta[last])
    const followed = shape.thermometer === 'gas' ? 0.1 * cooling * left : swingError ** 2 * change * 30
    out[i] += followed * change * felt ** 2
  }
  return out
}
