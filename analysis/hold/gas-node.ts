import { solveUpper } from '#analysis/numeric/cholesky.ts'
import { type DriftFilter, driftFilteredSums } from './drift-filter.ts'
import { type GasRows, type GasShape, place } from './gas-columns.ts'
import type { GasBeliefs } from './gas-priors.ts'
import type { GasSetting } from './gas-setting.ts'
import type { NoiseSize, ShapeColumns } from './gas-shape.ts'
import { type GasNode, type GasSolution, gasNode, gasUnknowns } from './gas-solution.ts'
import { thermometerDensity, walkBehind } from './late-response.ts'

/** Conditional answers, tens of thousands, in columns: each normal in the drop given everything that is not linear. */
export interface Parts {
  readonly logWeight: number[]
  /** Places of its stretch and its flow law in the beliefs. */
  readonly stretch: number[]
  readonly flow: number[]
  /** Drop of ln p in the stated hold time at the stated pressure. */
  readonly drop: number[]
  readonly variance: number[]
  /** Random walk of its noise, [1/s]. */
  readonly walkPerS: number[]
}

export function noParts(): Parts {
  return { logWeight: [], stretch: [], flow: [], drop: [], variance: [], walkPerS: [] }
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

// Exponential belief in the size of a creep, over its mean, as points and weights where the data do not tell the size.
const creepLadder: readonly (readonly [size: number, weight: number])[] = [
  [0.12, 0.22],
  [0.4, 0.24],
  [0.8, 0.22],
  [1.4, 0.18],
  [2.3, 0.1],
  [3.8, 0.04],
]

/** A size of creep known better than this share of itself is summed over around its own middle. */
const knownCreep = 0.3
/** A creep of more than so many mean sizes is not believed. */
const mostCreep = 4
/** Nodes and weights of Gauss and Hermite for a normal density, of order 5. */
const normalNodes: readonly (readonly [z: number, weight: number])[] = [
  [-2.856970013872806, 0.011257411327720691],
  [-1.355626179974266, 0.22207592200561263],
  [0, 0.5333333333333333],
  [1.355626179974266, 0.22207592200561263],
  [2.856970013872806, 0.011257411327720691],
]

/**
 * Solves a shape at one size of the noise under every belief, hands out its parts and returns its best solution.
 *
 * @param cut parts of less log-weight are not handed out
 */
export function solveNode(
  { rows, beliefs, stepS, filterOf, priorsOf }: GasSetting,
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
  let best: Solution | null = null
  const creepShare = 1 / beliefs.creepTausS.length
  const unknown = believedCreeps(beliefs)
  const stretchPlace = beliefs.stretch.indexOf(stretch)
  const flowPlace = beliefs.flow.findIndex((flow) => flow.exponent === shape.flowExponent)
  for (const prior of priorsOf(stretch, shape.thermometer)) {
    const node = gasNode(sums, columns.length, prior)
    if (node === null) continue
    const { factor } = node
    for (let k = 0; k < beliefs.creepTausS.length; k++) {
      const solved = node.withCreep(k)
      if (solved === null) continue
      const { logDensity, creepStd } = solved
      const cool =
        logWeight +
        readingDensity +
        Math.log(noise.weight * prior.gain.weight * creepShare) -
        0.5 * filter.logDeterminant +
        logDensity -
        Math.log(creepStd * Math.sqrt(2 * Math.PI))
      // Too much heat takes off from this and so does the belief in each size of creep: none comes above it.
      if (cool < cut && best !== null && cool <= best.logWeight) continue
      const solution = solved.solve()
      const creepMean = solution[place.creep]
      const flat = cool - tooHot(solution[place.heat], rows)
      // The last 2×2 of the factor is that of the joint precision of (drop, creep).
      const l11 = factor[place.leak * gasUnknowns + place.leak]
      const l21 = factor[place.creep * gasUnknowns + place.leak]
      const dropVariance = 1 / l11 ** 2 // given the creep
      const slope = -l21 / l11
      for (const { creep, logBelief } of knownCreeps(beliefs, creepMean, creepStd) ?? unknown) {
        const z = (creep - creepMean) / creepStd
        const logPart = flat + logBelief - 0.5 * z * z
        if (best === null || logPart > best.logWeight) {
          best = {
            logWeight: logPart,
            shape,
            creepTauS: beliefs.creepTausS[k],
            noise,
            coefficients() {
              return conditionOnCreep(gasNode(sumsOf(columns, filter), columns.length, prior), k, creep)
            },
          }
        }
        if (logPart < cut) continue
        const drop = solution[place.leak] + slope * (creep - creepMean)
        parts.logWeight.push(logPart)
        parts.stretch.push(stretchPlace)
        parts.flow.push(flowPlace)
        parts.drop.push(drop)
        parts.variance.push(dropVariance)
        parts.walkPerS.push(walkBehindPerS)
      }
    }
  }
  return best
}

/** A size of creep to try, and the log of the belief in it. */
interface CreepSize {
  readonly creep: number
  readonly logBelief: number
}

function noCreep({ creepWeight }: GasBeliefs): CreepSize {
  return { creep: 0, logBelief: Math.log(1 - creepWeight) }
}

/** Sizes to try where the data do not tell: none, and points of an exponential belief. */
function believedCreeps(beliefs: GasBeliefs): CreepSize[] {
  const { creepWeight, creepScale } = beliefs
  return [
    noCreep(beliefs),
    ...creepLadder.map(([size, weight]) => ({
      creep: size * creepScale,
      logBelief: Math.log(weight * creepWeight),
    })),
  ]
}

/** Sizes around the one that the data tell, so close that points of the belief would miss it; null where they do not tell. */
function knownCreeps(beliefs: GasBeliefs, mean: number, std: number): CreepSize[] | null {
  const { creepWeight, creepScale } = beliefs
  const size = mean / creepScale
  const spread = std / Math.abs(creepScale)
  if (size > mostCreep || spread > knownCreep * size) return null
  const known = normalNodes.map(([z, weight]) => ({
    creep: mean + z * std,
    // The belief's density over the normal one, which counts by the weights already.
    logBelief:
      Math.log(creepWeight * weight * spread * Math.sqrt(2 * Math.PI)) - (size + z * spread) + 0.5 * z * z,
  }))
  return [noCreep(beliefs), ...known]
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
function conditionOnCreep(node: GasNode | null, creepIndex: number, creep: number): Float64Array {
  const { factor, withCreep } = node as GasNode
  const solution = (withCreep(creepIndex) as GasSolution).solve()
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
