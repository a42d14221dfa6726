import { memoize } from '#analysis/numeric/memoize.ts'
import { believedCreeps, type CreepSizes } from './creep-sizes.ts'
import { type DriftFilter, driftFilter } from './drift-filter.ts'
import type { GasRows, GasShape } from './gas-columns.ts'
import type { GasBeliefs, StretchBelief } from './gas-priors.ts'
import type { NoiseSize } from './gas-shape.ts'
import { type GasPrior, gasPrior } from './gas-solution.ts'

/** What the shapes of one fit share. */
export interface GasSetting {
  readonly rows: GasRows
  readonly beliefs: GasBeliefs
  /** Time from each row's middle to the next, [s]. */
  readonly stepS: Float64Array
  /** Sizes of creep to try where the data do not tell. */
  readonly creeps: CreepSizes
  /** The filter of a noise: one serves all shapes of the same stretch. */
  filterOf(white: Float64Array, extraWalk: Float64Array, noise: NoiseSize): DriftFilter
  /** What is believed of a shape's coefficients, with each gain. */
  priorsOf(stretch: StretchBelief, thermometer: GasShape['thermometer']): readonly GasPrior[]
}

/** The setting of a fit, what shapes share being made once. */
export function gasSetting(rows: GasRows, beliefs: GasBeliefs): GasSetting {
  const stepS = rowSteps(rows)
  const filters = memoize((white: Float64Array) =>
    memoize((extraWalk: Float64Array) =>
      memoize(({ whiteScale, walkPerS }: NoiseSize) =>
        driftFilter(stepS, white, whiteScale, walkPerS, extraWalk),
      ),
    ),
  )
  const priors = memoize((stretch: StretchBelief) =>
    memoize((thermometer: GasShape['thermometer']) =>
      beliefs.gain.map((gain) => gasPrior(thermometer, stretch, rows, beliefs, gain)),
    ),
  )
  return {
    rows,
    beliefs,
    stepS,
    creeps: believedCreeps(beliefs),
    filterOf: (white, extraWalk, noise) => filters(white)(extraWalk)(noise),
    priorsOf: (stretch, thermometer) => priors(stretch)(thermometer),
  }
}

/** Time from each row's middle to the next, [s]. */
function rowSteps(rows: Pick<GasRows, 'fromS' | 'toS'>): Float64Array {
  const out = new Float64Array(rows.fromS.length)
  for (let i = 1; i < out.length; i++) {
    out[i] = (rows.fromS[i] + rows.toS[i] - rows.fromS[i - 1] - rows.toS[i - 1]) / 2
  }
  return out
}
