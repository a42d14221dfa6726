import type { InferOutput } from 'valibot'
import type { Estimate, HoldResult, ReasonValues, Verdict } from '#analysis/model/hold-result.ts'
import type { lostBody, markBody, startHoldBody } from './server/http/bodies.ts'

/**
 * The messages between page and server, request by request in docs/http-api.md. Everything is SI and JSON; columns
 * are plain number arrays.
 */

export type Stage = 'idle' | 'pump-up' | 'settle' | 'hold' | 'vent'

/** Newest readings since the last batch, per channel. */
export interface SampleBatch {
  readonly channels: Readonly<
    Record<string, { readonly timeS: readonly number[]; readonly reading: readonly number[] }>
  >
}

/** Smallest and largest reading of each of at most N slices, for charts. */
export interface MinMaxColumns {
  readonly channel: string
  readonly timeS: readonly number[]
  readonly low: readonly number[]
  readonly high: readonly number[]
}

/** One interim analysis of a running hold; successive intervals narrow. */
export interface LeakLook {
  /** Seconds from the start of the hold stage. */
  readonly atS: number
  /** With several sections: the section with the largest leak that cannot be excluded. */
  readonly dropPa: Estimate
  /** Each measured section separately, where the hold covers more than one. */
  readonly sections?: Readonly<Record<string, Estimate>>
}

export interface PortState {
  readonly name: string
  readonly open: boolean
  readonly dialect: string | null
  /** True once the user has confirmed the detected dialect. */
  readonly confirmed: boolean
  readonly lines: number
  readonly rejected: number
  readonly missing: number
  /** Seconds since the last byte; null before the first. */
  readonly silentS: number | null
  readonly fault: string | null
  /** The incoming data are not readings; the most probable cause. The page offers the fix. */
  readonly trouble?: {
    readonly code: 'baud-rate' | 'line-ends' | 'header'
    readonly message: string
    readonly baudRate?: number
    readonly columns?: number
  } | null
}

export interface RunningHold {
  readonly hold: string
  readonly stage: Stage
  /** Bench time (of the samples) at which the stage began, seconds from the session's start. */
  readonly stageStartedS: number
  /** Planned length of the stage, [s]; null where the user decides. */
  readonly stageLengthS: number | null
  readonly looks: readonly LeakLook[]
  readonly allowanceDropPa: number
  /** Live verdict under the anytime-valid rule; null before the first one. */
  readonly verdict: Verdict | null
  readonly reasons: HoldResult['reasons']
  readonly decidesInS: number | null
  /** What the bench check has found so far. */
  readonly proof?: HoldResult['proof']
  /** Newest compensated gauge pressure per section, [Pa]. */
  readonly compensatedPa: Readonly<Record<string, number>>
  /** While settling: whether the pressure is even enough to start the hold, and the countdown to the automatic start. */
  readonly settled?: Settling
  /** At pump-up: every measured section is near enough to the test pressure to settle. */
  readonly atPressure?: boolean
  /** Effect of ending before the planned time; absent when the server does not send it: prescribed. */
  readonly time?: 'prescribed' | 'until-decided'
  /** The pressure fell faster than any leak in the interval explains: no verdict until the operator gives the cause. */
  readonly lost?: PressureLost | null
  /** Why this hold can prove nothing more, such as a full disk; the section is still under pressure. */
  readonly broken?: string | null
  /** Bench time at which the running hold's pump-up began, [s]. */
  readonly pumpUpS?: number | null
}

export interface Settling {
  readonly ready: boolean
  /** Slope of the pressure now and shortly before, [Pa/s]; null with too few readings. */
  readonly nowPaPerS: number | null
  readonly beforePaPerS: number | null
  /** Countdown to the automatic start of the hold, [s]; null while none runs. */
  readonly startsInS: number | null
}

/** A pressure drop that no leak in the interval explains. */
export interface PressureLost {
  readonly section: string
  /** Bench time of the detection, [s]. */
  readonly atS: number
  /** Gauge pressure before and after, [Pa]. */
  readonly fromPa: number
  readonly toPa: number
}

export type LostAnswer = InferOutput<typeof lostBody>['answer']

/** One number of a logger's stream, whether or not a channel of the system file maps it. */
export interface SeenField {
  readonly measurement: string
  readonly field: string
  readonly tags: Readonly<Record<string, string>>
  /** As sent, without scaling. */
  readonly raw: number
  /** Unit that the logger sends with it. */
  readonly unit?: string
  readonly timeS: number
  /** Id of the channel that maps it; null when none does. */
  readonly channel: string | null
}

export interface CompensatedCurve {
  readonly section: string
  readonly timeS: readonly number[]
  readonly compensatedPa: readonly number[]
}

/** Addresses at which other devices can open the page. */
export interface Sharing {
  /** True while the server listens on this machine only. */
  readonly loopbackOnly: boolean
  /** How to let others in, one sentence. */
  readonly advice: string
  readonly links: readonly { readonly role: LiveState['role']; readonly url: string }[]
}

export interface Alarm {
  readonly code:
    | 'over-pressure'
    | 'ramp-too-fast'
    /** Unexplained pressure loss: an unmarked vent, or a joint that failed. */
    | 'pressure-fell'
    | 'logger-silent'
    | 'logger-unplugged'
    /** The port sends data that are not readings: a missed header, a wrong baud rate. */
    | 'logger-unread'
    | 'disk-full'
    | 'clock-jump'
    /** An ended hold is not in the archive yet; sealing is retried automatically. */
    | 'not-sealed'
    /** An ended hold that cannot be sealed: its recording is kept, and it proves nothing. */
    | 'set-aside'
  readonly message: string
  /** SI numbers of the message: the page formats them in its reader's units. */
  readonly values?: ReasonValues
}

export interface NewestReading {
  readonly timeS: number
  readonly reading: number
  /** Time without a reading, [s] of real time; null while readings arrive. */
  readonly quietS?: number | null
  /** The last five seconds as read, without captures of zero: input of a capture or a calibration point. */
  readonly lately?: { readonly asRead: number; readonly low: number; readonly high: number }
}

export interface LiveState {
  readonly version: string
  readonly systemName: string
  /** Changes whenever the system file is changed, here or by another page. */
  readonly systemChanges: number
  /** Speed: 1 on a real bench; the demo bench may run faster. */
  readonly speed: number
  readonly demo: boolean
  /** The aircraft of the workshop that the bench is set to; absent where there is only one. */
  readonly aircraft?: string
  /** Who drives the demo bench, and the current step of the automatic operator; absent on a real bench. */
  readonly demoOperator?: { readonly who: 'automatic' | 'you'; readonly says: string }
  /** Bench time, seconds from the session's start; null before the first sample. */
  readonly nowS: number | null
  readonly recording: string | null
  /** Newest reading of each channel, SI, with captures of zero applied, before calibration. */
  readonly newest: Readonly<Record<string, NewestReading>>
  readonly ports: readonly PortState[]
  readonly hold: RunningHold | null
  /** The hold sealed last, with its record id. */
  readonly last: { readonly record: string; readonly result: HoldResult } | null
  /** True between the end of a hold and its record. */
  readonly sealing?: boolean
  readonly alarms: readonly Alarm[]
  readonly marks: readonly {
    /** Epoch nanoseconds as text: the identifier that a correction refers to. */
    readonly ns: string
    readonly timeS: number
    readonly kind: string
    readonly id: string | null
    readonly text: string
  }[]
  readonly role: 'operator' | 'viewer'
  /** Epoch nanoseconds of second 0 of every live time, as decimal text: clock times on charts. */
  readonly recordingStartNs?: string | null
}

/** A state in the stream: unchanged looks are omitted. The first state has all of them. */
export type StreamedState = Omit<LiveState, 'hold'> & {
  readonly hold: (Omit<RunningHold, 'looks'> & Partial<Pick<RunningHold, 'looks'>>) | null
}

/** The marks in the recording of a record, in time order. */
export interface RecordMarks {
  readonly marks: readonly {
    /** Seconds from the start of the recording, as its columns count them. */
    readonly timeS: number
    readonly time: string
    readonly kind: string
    readonly id: string | null
    readonly text: string
    /** Name of its photo. */
    readonly photo?: string
  }[]
  /** What the operator checked before the pump-up. */
  readonly stateSheet: readonly string[]
}

/** One sensor of a hold before its start. */
export interface StartCheck {
  readonly channel: string
  /** `blocks`: no hold can start. */
  readonly state: 'ready' | 'notice' | 'blocks'
  /** One sentence in the reader's units; empty when nothing is wrong. */
  readonly message: string
  /** For a movable gauge: the gauge to screw on and mark there. */
  readonly place?: { readonly gauge: string; readonly section: string }
}

export type StartHold = Omit<InferOutput<typeof startHoldBody>, 'dry'> & { readonly dry?: boolean }
export type NewMark = InferOutput<typeof markBody>

/** A look as stored, with the server's time and the person's name. */
export interface SavedLook {
  readonly fitting: string
  readonly at: string
  readonly by: string
  readonly stamped: true
  readonly finding: string
  readonly how: readonly string[]
  readonly spread?: string
  readonly 'since-wipe'?: string
  readonly head?: string
  readonly withdrawn?: string
}

/** The sheet of one stage of the fuelling checks, saved entry by entry; judging reads the saved sheet. */
export interface SavedSheet {
  readonly id: string
  readonly sheet: {
    readonly stage: string
    readonly sections: readonly string[]
    readonly began: string | null
    readonly fuel?: string
    readonly temperature?: string
    readonly 'hold-record'?: string
    readonly done: readonly number[]
    readonly omitted: readonly { step?: number; stage?: string; fitting?: string; why: string }[]
    readonly looks: readonly SavedLook[]
    /** Who did what, when: the server adds the time. */
    readonly journal: readonly { readonly at: string; readonly by: string; readonly did: string }[]
  }
}

/** What was recognised in a dropped file, and what was done with it. */
export interface ImportAnswer {
  readonly about: string
  readonly columns: readonly { readonly title: string; readonly example: string; readonly means: string }[]
  /** Null for a recording. */
  readonly points: number | null
  readonly rejected: number
  /** Epoch nanoseconds of its first and last row; null for a recording. */
  readonly from: string | null
  readonly to: string | null
  readonly holds: readonly { readonly hold: string | null; readonly verdict: Verdict }[]
  /** Empty in a preview. */
  readonly records: readonly string[]
}

/** A first system file with a generic layout, for one way to measure. */
export interface FirstFile {
  readonly layout: string
  readonly about: string
  readonly instruments: string
  /** What these are, in plain words. */
  readonly with: string
  readonly text: string
}

export interface SystemFileError {
  readonly line: number
  readonly column: number
  readonly message: string
}
