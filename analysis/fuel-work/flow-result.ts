import type { Estimate, Verdict, WordedReason } from '#analysis/model/hold-result.ts'
import type { Fuel } from '#analysis/physics/fuel-properties.ts'

/** A figure with its standard uncertainty, SI. */
export interface Measured {
  readonly value: number
  readonly std: number
}

export type FlowFeed = 'gravity' | 'pump'

/** One timed delivery. */
export interface FlowRun {
  readonly tank: string
  readonly feed: FlowFeed
  /** Which pump; null for gravity. */
  readonly pump: string | null
  /** What was caught: weighed, measured by volume, or the mean of a flow channel. */
  readonly delivered:
    | { readonly by: 'mass'; readonly shownKg: Measured }
    | { readonly by: 'volume'; readonly m3: Measured }
    | { readonly by: 'channel'; readonly m3PerS: Measured; readonly channel: string }
  readonly seconds: Measured
  /** Of the fuel caught, [K]. */
  readonly temperatureK: Measured
  /** Nose up, [°]; null when it was not measured. */
  readonly attitudeDeg: number | null
  /** The tank held no more than its unusable fuel and what the run needs: the lowest head. Null when not stated. */
  readonly lowestHead: boolean | null
}

export interface FlowSheet {
  readonly fuel: Fuel
  /** Take-off fuel flow of the engine, [m³/s]. */
  readonly takeOffM3PerS: Measured
  /** Where that figure comes from, as written; null when not stated. */
  readonly takeOffSource: string | null
  /** Attitude most critical for the feed, nose up, [°]; null when not stated. */
  readonly climbDeg: number | null
  readonly measuredDensity: {
    readonly densityKgM3: number
    readonly stdKgM3: number
    readonly temperatureK: number
  } | null
  readonly runs: readonly FlowRun[]
  /** Tanks of the system; absent where it is not known. */
  readonly tanks?: readonly string[]
}

export interface FlowRunResult {
  readonly run: string
  readonly verdict: Verdict
  readonly flow_L_per_h: Estimate
  readonly required_L_per_h: Estimate
  /** Measured over take-off flow, [%]; 150 or 125 is needed. */
  readonly share_percent: number
  readonly needed_percent: number
  readonly attitude_deg: number | null
}

/** Result of a flow check, sealed as a record of kind `flow`. Intervals are 95 %. */
export interface FlowResult {
  readonly stillhold: 1
  readonly subject: string
  readonly sections: readonly string[]
  readonly verdict: Verdict
  readonly reasons: readonly WordedReason[]
  readonly fuel: Fuel
  readonly density: {
    readonly at_K: number
    readonly kg_per_m3: number
    readonly std_kg_per_m3: number
    readonly source: 'measured' | 'grade'
  } | null
  readonly take_off_L_per_h: Estimate
  readonly take_off_source: string | null
  readonly climb_attitude_deg: number | null
  readonly runs: readonly FlowRunResult[]
}
