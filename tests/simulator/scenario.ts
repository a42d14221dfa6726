import type { BarometerSpec, ThermometerSpec, TransducerSpec } from '#ingest/simulator/instruments.ts'
import type { VesselSpec } from '#ingest/simulator/vessel.ts'
import type { Weather } from './weather.ts'

/** What the system file says about the section, which need not be the truth. Figures as a person writes them. */
interface StatedSection {
  readonly kind: 'line' | 'tank'
  readonly volumeL: number
  readonly tolerancePercent: number
  /** Growth of the volume, [% per bar]; null: not stated. */
  readonly stretchPercentPerBar: number | null
}

export type StatedAllowance =
  | { readonly kind: 'drop'; readonly dropPsi: number }
  | { readonly kind: 'leak'; readonly sccPerMin: number }

/** How the hold is run; a stated figure stands in the system file, an actual one is what was done. */
export interface Procedure {
  readonly pressurePsi: number
  readonly statedSettleS: number
  readonly settleS: number
  readonly holdS: number
  readonly allow: StatedAllowance
  /** Reading at the atmosphere before pump-up, [s]. */
  readonly beforeS: number
  readonly pumpUpS: number
  /** Pressure at the end of pump-up over the stated test pressure. */
  readonly pumpTo: number
  /** How long the regulator stays connected after pump-up, [s]. */
  readonly dwellS: number
  /** Reading after the vent is opened, [s]. */
  readonly ventS: number
  /** Time constant of the vent, [s]. */
  readonly ventTauS: number
  readonly stageMarks: boolean
}

export interface Bench {
  readonly pressure: TransducerSpec
  readonly thermometer: ThermometerSpec | null
  readonly barometer: BarometerSpec | null
  /** Whether the system file states the resolution of the pressure channel. */
  readonly statesResolution: boolean
  readonly sampleHz: number
  /** Standard deviation of the sampling instant, [s]. */
  readonly jitterS: number
  /** Share of samples that are lost. */
  readonly lostShare: number
}

/** One hold told completely; only the noise is still open, and a seed fixes that. */
export interface Scenario {
  readonly name: string
  readonly vessel: VesselSpec
  readonly stated: StatedSection
  readonly procedure: Procedure
  readonly leakOverAllowance: number
  readonly weather: Weather
  readonly bench: Bench
}
