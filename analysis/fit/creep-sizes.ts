import type { GasBeliefs } from './gas-priors.ts'

/** Sizes of a creep to try, and the log of the belief in each. */
export interface CreepSizes {
  readonly creep: Float64Array
  readonly logBelief: Float64Array
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

/** Sizes to try where the data do not tell: none, and points of an exponential belief. */
export function believedCreeps({ creepWeight, creepScale }: GasBeliefs): CreepSizes {
  return {
    creep: Float64Array.of(0, ...creepLadder.map(([size]) => size * creepScale)),
    logBelief: Float64Array.of(
      Math.log(1 - creepWeight),
      ...creepLadder.map(([, weight]) => Math.log(weight * creepWeight)),
    ),
  }
}

const known: CreepSizes = {
  creep: new Float64Array(1 + normalNodes.length),
  logBelief: new Float64Array(1 + normalNodes.length),
}

/**
 * None, and sizes around the one that the data tell, so close that points of the belief would miss it; null where they do not
 * tell. In arrays that the next call writes over.
 */
export function knownCreeps(
  { creepWeight, creepScale }: GasBeliefs,
  mean: number,
  std: number,
): CreepSizes | null {
  const size = mean / creepScale
  const spread = std / Math.abs(creepScale)
  if (size > mostCreep || spread > knownCreep * size) return null
  known.creep[0] = 0
  known.logBelief[0] = Math.log(1 - creepWeight)
  for (let i = 0; i < normalNodes.length; i++) {
    const [z, weight] = normalNodes[i]
    known.creep[i + 1] = mean + z * std
    // The belief's density over the normal one, which counts by the weights already.
    known.logBelief[i + 1] =
      Math.log(creepWeight * weight * spread * Math.sqrt(2 * Math.PI)) - (size + z * spread) + 0.5 * z * z
  }
  return known
}
