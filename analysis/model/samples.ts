import type { MarkMaker } from './origin.ts'

/** What one channel said: columns of equal length, in the order of time. */
export interface ChannelSamples {
  /** Channel id. */
  readonly channel: string
  /** Seconds from the recording's start, [s]. */
  readonly timeS: Float64Array
  /** Readings in SI units (Pa, K, m³/s, raw for senders), scaled but not yet corrected by the calibration. */
  readonly reading: Float64Array
}

/** What a person marks. */
export const operatorMarks = [
  'stage',
  'valve',
  'work',
  'look',
  'note',
  'zero',
  'stroke',
  'plug',
  // Fuel poured in or drawn off while a level sender is calibrated.
  'fill',
  // A known leak or a known volume of the system file is opened or shut.
  'check',
  // The supply's hose is taken off and the port plugged, or the supply is looked at.
  'supply',
  // A gauge that is moved is on the section that its field `section` names, from here on.
  'place',
] as const

/** Every kind of mark: what a person marks, and what takes one back or is the program's own. */
export const markKinds = [
  ...operatorMarks,
  // Takes back the mark whose time in nanoseconds its field `of` states.
  'correction',
  'gap',
  'fault',
  'clock',
  // Where a channel's readings come from.
  'origin',
] as const
export type MarkKind = (typeof markKinds)[number]

/** A time-stamped event of a recording. `tags` and `fields` keep all that was written. */
export interface Mark {
  /** Epoch nanoseconds as decimal text, exact. */
  readonly timeNs: string
  /** Seconds from the recording's start, [s]. */
  readonly timeS: number
  readonly kind: MarkKind
  /** Fitting, valve or channel id; null when the mark has none. */
  readonly id: string | null
  /** Hold id of a stage mark; null when not given. */
  readonly hold: string | null
  /** Absent for the program's own marks, and in recordings of version 0.1. */
  readonly from?: MarkMaker
  readonly fields: Readonly<Record<string, string | number | boolean>>
}

/** A recording read against a system file: the input of every analysis. */
export interface Recording {
  /** File name without folder. */
  readonly name: string
  /** Time of the first point, epoch nanoseconds as decimal text. */
  readonly startNs: string
  readonly channels: readonly ChannelSamples[]
  readonly marks: readonly Mark[]
  /** Lines kept as `#!` comments. */
  readonly rejectedLines: number
  /** Numbers missing from the logger's own sequence. */
  readonly missingSequence: number
  /** Where the time of a channel's samples went back, as they stand in the file: its clock was set. */
  readonly clockJumps?: readonly { readonly timeS: number; readonly seconds: number }[]
  /** Lines that cannot be read in a recording that was whole when it was written. */
  readonly damage?: RecordingDamage
}

/** A recording was damaged after it was written: what its unreadable lines said, samples or marks, is not known. */
export interface RecordingDamage {
  /** Line of the file of the first one, from 1. */
  readonly line: number
  /** How many there are. */
  readonly lines: number
  /** Time of the newest point before the first one, [s]; −∞ when none is before it. */
  readonly afterS: number
}
