import type { Estimate, Verdict, WordedReason } from '#analysis/model/hold-result.ts'
import type { Fuel } from '#analysis/physics/fuel-properties.ts'
import type { flowRules } from './sheet-fields.ts'

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
  /** Which pump; `all` for every one together; null for gravity. */
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
  /** In the tank when the run began, [m³]; null when not measured. */
  readonly inTankM3: Measured | null
  /** The tank held no more than its unusable fuel and what the run needs: the lowest head. Null when not stated. */
  readonly lowestHead: boolean | null
  /** Where it ran out, seen from the inlet of the engine: lower adds a head that the engine does not have. */
  readonly outlet: 'level' | 'higher' | 'lower' | null
  /** At the inlet of the engine, gauge, [Pa]. */
  readonly inletPa: Measured | null
}

export interface FlowSheet {
  readonly fuel: Fuel
  /** Take-off fuel flow of the engine, [m³/s]. */
  readonly takeOffM3PerS: Measured
  /** Where that figure comes from, as written; null when not stated. */
  readonly takeOffSource: string | null
  readonly rules: (typeof flowRules)[number] | null
  /** Steepest climb, nose up, and the margin on top of it, [°]; null when not stated. */
  readonly climbDeg: number | null
  readonly marginDeg: number | null
  /** Every main and emergency pump; empty for a system that feeds by gravity alone, null when not stated. */
  readonly pumps: readonly string[] | null
  /** Pressures that the engine accepts at its inlet, gauge, [Pa]. */
  readonly inletLimitsPa: readonly [low: number, high: number] | null
  readonly inletLimitsSource: string | null
  readonly measuredDensity: {
    readonly densityKgM3: number
    readonly stdKgM3: number
    readonly temperatureK: number
  } | null
  readonly runs: readonly FlowRun[]
  /** Runs that are not made, by tank and pump, each with its reason; null stands for any. */
  readonly omitted: readonly {
    readonly tank: string | null
    readonly pump: string | null
    readonly why: string
  }[]
  /** Tanks of the system with their stated unusable fuel, [m³]. */
  readonly tanks: readonly { readonly id: string; readonly unusableM3: number | null }[]
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
  readonly in_tank_L: number | null
  readonly outlet: FlowRun['outlet']
  readonly inlet_pressure_Pa: number | null
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
  readonly rules: string
  /** The attitude that every run needs: climb and margin. */
  readonly attitude_needed_deg: number | null
  readonly pumps: readonly string[] | null
  /** Runs that the sheet lacks. */
  readonly missing: readonly string[]
  readonly runs: readonly FlowRunResult[]
}
