import { type ChannelOrigin, type MarkMaker, type OriginKind, originKinds } from './origin.ts'

/** Data of one channel: columns of equal length, in order of time. */
export interface ChannelSamples {
  /** Channel id. */
  readonly channel: string
  /** Seconds from the recording's start, [s]. */
  readonly timeS: Float64Array
  /** Readings in SI units (Pa, K, m³/s, raw for senders), scaled but not yet corrected by the calibration. */
  readonly reading: Float64Array
}

/** Kinds of mark made by a person. */
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
  // The supply's hose is removed and the port plugged, or the supply is inspected.
  'supply',
  // A moved gauge is on the section in field `section` from here on.
  'place',
] as const

/** Every kind of mark: a person's, withdrawals, and the program's own. */
export const markKinds = [
  ...operatorMarks,
  // Withdraws the mark at the time in field `of`, in nanoseconds.
  'correction',
  'gap',
  'fault',
  'clock',
  // Origin of a channel's readings.
  'origin',
] as const
export type MarkKind = (typeof markKinds)[number]

/** A time-stamped event of a recording. `tags` and `fields` contain everything written. */
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
  /** Places in the file where the time of a channel's samples decreases: its clock was set. */
  readonly clockJumps?: readonly { readonly timeS: number; readonly seconds: number }[]
  /** Unreadable lines in a recording that was complete when written. */
  readonly damage?: RecordingDamage
}

/** Damage to a recording after it was written: the content of its unreadable lines is unknown. */
export interface RecordingDamage {
  /** Line number of the first one, from 1. */
  readonly line: number
  /** Their number. */
  readonly lines: number
  /** Time of the newest point before the first one, [s]; −∞ when none is before it. */
  readonly afterS: number
}

/** ISO 8601 of epoch nanoseconds, to the millisecond: `2026-04-11T09:30:00.000Z`. */
export function isoTime(ns: string | bigint): string {
  return new Date(Number(BigInt(ns) / 1_000_000n)).toISOString()
}

/** Whether the text is a day of the calendar, such as `2026-03-02`. */
export function isDay(text: string): boolean {
  const ms = /^\d{4}-\d\d-\d\d$/.test(text) ? Date.parse(`${text}T00:00:00Z`) : Number.NaN
  // Date.parse accepts the 31st of any month; a round trip detects it.
  return !Number.isNaN(ms) && new Date(ms).toISOString().startsWith(text)
}

/**
 * Origin of each channel's readings, from the program's own marks in the recording. Marks within a logger's lines do not
 * count: they cannot prove their origin.
 */
export function channelOrigins(marks: readonly Mark[]): ChannelOrigin[] {
  const found = new Map<string, ChannelOrigin>()
  for (const { kind, id, from, fields } of marks) {
    if (kind !== 'origin' || id === null || from !== undefined) continue
    const source = String(fields.source) as OriginKind
    if (!originKinds.includes(source)) continue
    const text = (key: string): string | null => (typeof fields[key] === 'string' ? fields[key] : null)
    const origin = { channel: id, kind: source, name: text('name'), sha256: text('sha256') }
    found.set(JSON.stringify(origin), origin)
  }
  return [...found.values()]
}
