import type { Verdict, WordedReason } from '#analysis/model/hold-result.ts'

export type Attitude = 'level' | 'ground'
export type Direction = 'up' | 'down'

/** Why a point of a level calibration does not count. */
export type PointFault =
  | 'reversal'
  | 'flat-top'
  | 'too-few-readings'
  | 'not-settled'
  | 'end-of-span'
  | 'attitude-not-stated'

export interface LevelPointResult {
  readonly attitude: Attitude
  readonly direction: Direction
  readonly usable_L: number
  readonly reading: number
  /** Standard uncertainty of the reading. */
  readonly std_reading: number
}

export interface RejectedPoint {
  readonly recording: string
  readonly attitude: Attitude | null
  readonly direction: Direction
  readonly usable_L: number
  readonly reading: number | null
  readonly code: PointFault
  readonly message: string
}

/** One mark of the gauge's scale: what the sender says there, and what fuel that may stand for. */
export interface LevelStep {
  readonly step: string
  readonly usable_L: number
  /** Null where the sender cannot tell. */
  readonly reading: number | null
  readonly reading_low: number | null
  readonly reading_high: number | null
  readonly usable_low_L: number | null
  readonly usable_high_L: number | null
}

/** Result of a level sender calibration, sealed as a record of kind `level`. Intervals are 95 %. */
export interface LevelResult {
  readonly stillhold: 1
  readonly channel: string
  readonly section: string
  readonly recordings: readonly string[]
  readonly verdict: Verdict
  readonly reasons: readonly WordedReason[]
  /** Unit of the readings. */
  readonly reading_unit: string
  readonly reading_with_more_fuel: 'rises' | 'falls' | null
  /** From unusable fuel (0) to full, as the table divides it. */
  readonly usable_full_L: number | null
  /** Unusable fuel that the table counts from: found, else as the file states it; null where neither knows. */
  readonly unusable_L: number | null
  readonly jug: {
    readonly sum_L: number
    readonly total_L: number | null
    readonly difference_L: number | null
    readonly difference_allowed_L: number | null
    /** True liters in a liter by the jug. */
    readonly factor: number
    readonly std_factor: number
  } | null
  readonly capacity: {
    readonly measured_L: number
    readonly measured_low_L: number
    readonly measured_high_L: number
    readonly placard_L: number | null
  } | null
  /** Largest difference between up and down, as a share of the span of the readings and in fuel. */
  readonly hysteresis: { readonly span_percent: number; readonly fuel_L: number } | null
  /** Largest fuel for which the sender still moves; null when it moves to the last point. */
  readonly reads_up_to_L: number | null
  readonly steps_level: readonly LevelStep[]
  readonly steps_ground: readonly LevelStep[]
  readonly points: readonly LevelPointResult[]
  readonly rejected: readonly RejectedPoint[]
}
