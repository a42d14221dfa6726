import { solveUpper } from '#analysis/numeric/cholesky.ts'
import { knownCreeps } from './creep-sizes.ts'
import { type DriftFilter, driftFilteredSums } from './drift-filter.ts'
import { type GasRows, type GasShape, place, thermometers } from './gas-columns.ts'
import type { GasSetting } from './gas-setting.ts'
import type { NoiseSize, ShapeColumns } from './gas-shape.ts'
import { type GasNode, type GasPrior, gasNode, gasUnknowns } from './gas-solution.ts'
import { thermometerDensity, walkBehind } from './late-response.ts'

/** Conditional answers, tens of thousands, in columns: each normal in the drop given everything that is not linear. */
export interface Parts {
  readonly logWeight: number[]
  /** Places of its thermometer among `thermometers`, of its stretch and its flow law in the beliefs. */
  readonly thermometer: number[]
  readonly stretch: number[]
  readonly flow: number[]
  /** Drop of ln p in the stated hold time at the stated pressure. */
  readonly drop: number[]
  readonly variance: number[]
  /** Random walk of its noise, [1/s]. */
  readonly walkPerS: number[]
}

export function noParts(): Parts {
  return { logWeight: [], thermometer: [], stretch: [], flow: [], drop: [], variance: [], walkPerS: [] }
}

/** One solution to draw. */
export interface Solution {
  readonly logWeight: number
  readonly shape: GasShape
  readonly creepTauS: number
  readonly noise: NoiseSize
  /** In the order of `place`. */
  coefficients(): Float64Array
}

/**
 * Solves a shape at one size of the noise under every belief, hands out its parts and returns its best solution.
 *
 * @param cut parts of less log-weight are not handed out
 */
export function solveNode(
  { rows, beliefs, stepS, creeps, filterOf, priorsOf }: GasSetting,
  shaped: ShapeColumns,
  noise: NoiseSize,
  logWeight: number,
  cut: number,
  parts: Parts,
): Solution | null {
  const { columns, shape, stretch, extraWalk, variance } = shaped
  const filter = filterOf(variance, extraWalk, noise)
  const sums = sumsOf(columns, filter)
  const readingDensity = thermometerDensity(shaped, noise, stepS)
  const walkBehindPerS = walkBehind(shaped, noise, stepS)
  let most = Number.NEGATIVE_INFINITY
  let bestPrior: GasPrior | null = null
  let bestCreep = 0
  let bestSize = 0
  const creepShare = 1 / beliefs.creepTausS.length
  const thermometerPlace = thermometers.indexOf(shape.thermometer)
  const stretchPlace = beliefs.stretch.indexOf(stretch)
  const flowPlace = beliefs.flow.findIndex((flow) => flow.exponent === shape.flowExponent)
  for (const prior of priorsOf(stretch, shape.thermometer)) {
    const node = gasNode(sums, columns.length, prior)
    if (node === null) continue
    const { factor } = node
    for (let k = 0; k < beliefs.creepTausS.length; k++) {
      if (!node.withCreep(k)) continue
      const { logDensity, creepStd } = node
      const cool =
        logWeight +
        readingDensity +
        Math.log(noise.weight * prior.gain.weight * creepShare) -
        0.5 * filter.logDeterminant +
        logDensity -
        Math.log(creepStd * Math.sqrt(2 * Math.PI))
      // Too much heat takes off from this and so does the belief in each size of creep: none comes above it.
      if (cool < cut && cool <= most) continue
      const solution = node.solve()
      const creepMean = solution[place.creep]
      const flat = cool - tooHot(solution[place.heat], rows)
      // The last 2×2 of the factor is that of the joint precision of (drop, creep).
      const l11 = factor[place.leak * gasUnknowns + place.leak]
      const l21 = factor[place.creep * gasUnknowns + place.leak]
      const dropVariance = 1 / l11 ** 2 // given the creep
      const slope = -l21 / l11
      const sizes = knownCreeps(beliefs, creepMean, creepStd) ?? creeps
      for (let c = 0; c < sizes.creep.length; c++) {
        const creep = sizes.creep[c]
        const z = (creep - creepMean) / creepStd
        const logPart = flat + sizes.logBelief[c] - 0.5 * z * z
        if (logPart > most) {
          most = logPart
          bestPrior = prior
          bestCreep = k
          bestSize = creep
        }
        if (logPart < cut) continue
        const drop = solution[place.leak] + slope * (creep - creepMean)
        parts.logWeight.push(logPart)
        parts.thermometer.push(thermometerPlace)
        parts.stretch.push(stretchPlace)
        parts.flow.push(flowPlace)
        parts.drop.push(drop)
        parts.variance.push(dropVariance)
        parts.walkPerS.push(walkBehindPerS)
      }
    }
  }
  if (bestPrior === null) return null
  const prior = bestPrior
  return {
    logWeight: most,
    shape,
    creepTauS: beliefs.creepTausS[bestCreep],
    noise,
    coefficients() {
      const node = gasNode(sumsOf(columns, filter), columns.length, prior)
      return conditionOnCreep(node as GasNode, bestCreep, bestSize)
    },
  }
}

/** Where belief in a pump-up heat ends, over an adiabatic pump-up's, and how fast. Own figures. */
const hottest = 1
const hottestStd = 0.1

/** What a heat beyond an adiabatic pump-up's costs in log-weight: a shape that needs it can hardly be true. */
function tooHot(heat: number, { gaugePa, absolutePa }: GasRows): number {
  const share = heat / ((2 / 7) * (gaugePa[0] / absolutePa[0]))
  return share > hottest ? 0.5 * ((share - hottest) / hottestStd) ** 2 : 0
}

/** The solution where the creep has a given size: the other coefficients follow their covariance with it. */
function conditionOnCreep(node: GasNode, creepIndex: number, creep: number): Float64Array {
  node.withCreep(creepIndex)
  const { factor } = node
  const solution = node.solve()
  const unit = new Float64Array(gasUnknowns)
  unit[gasUnknowns - 1] = 1 / factor[gasUnknowns * gasUnknowns - 1]
  const covariance = new Float64Array(gasUnknowns)
  solveUpper(factor, gasUnknowns, unit, covariance)
  const shift = (creep - solution[gasUnknowns - 1]) / covariance[gasUnknowns - 1]
  return solution.map((value, r) => value + covariance[r] * shift)
}

let scratch = new Float64Array(0)

/** Sums that stand until the next are taken. */
function sumsOf(columns: readonly Float64Array[], filter: DriftFilter): Float64Array {
  if (scratch.length < columns.length ** 2) scratch = new Float64Array(columns.length ** 2)
  driftFilteredSums(columns, filter, scratch)
  return scratch
}
