import type { InferOutput } from 'valibot'
import type { Estimate, HoldResult, ReasonValues, Verdict } from '#analysis/model/hold-result.ts'
import type { lostBody, markBody, startHoldBody } from './server/http/bodies.ts'

/**
 * What the page and the server say to each other, request by request in docs/http-api.md. Everything is SI and JSON; columns
 * are plain number arrays.
 */

export type Stage = 'idle' | 'pump-up' | 'settle' | 'hold' | 'vent'

/** Newest readings since the last batch, per channel. */
export interface SampleBatch {
  readonly channels: Readonly<
    Record<string, { readonly timeS: readonly number[]; readonly reading: readonly number[] }>
  >
}

/** The smallest and largest reading of each of at most N slices: what a chart needs and no more. */
export interface MinMaxColumns {
  readonly channel: string
  readonly timeS: readonly number[]
  readonly low: readonly number[]
  readonly high: readonly number[]
}

/** One look at a running hold: the interval narrows as these follow each other. */
export interface LeakLook {
  /** Seconds from the start of the hold stage. */
  readonly atS: number
  /** Of several sections the one with the largest leak that cannot be excluded. */
  readonly dropPa: Estimate
  /** Every measured section by itself, where the hold covers more than one. */
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
  /** What comes is no reading, and most probably why; the page offers the fix. */
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
  /** Live verdict under the anytime-valid rule; null before there is one. */
  readonly verdict: Verdict | null
  readonly reasons: HoldResult['reasons']
  readonly decidesInS: number | null
  /** What a check of the bench has shown so far. */
  readonly proof?: HoldResult['proof']
  /** Newest compensated gauge pressure per section, [Pa]. */
  readonly compensatedPa: Readonly<Record<string, number>>
  /** While settling: whether the pressure runs evenly enough to hold, and the countdown to the start without a tap. */
  readonly settled?: Settling
  /** At pump-up: every measured section has reached a good part of the test pressure, so that it may settle. */
  readonly atPressure?: boolean
  /** What an end before the planned time means; absent from a server that does not say: prescribed. */
  readonly time?: 'prescribed' | 'until-decided'
  /** The pressure fell as no leak of the interval explains: there is no verdict until somebody says why. */
  readonly lost?: PressureLost | null
  /** Why this hold can prove nothing more, such as a full disk; it is still under pressure. */
  readonly broken?: string | null
  /** Bench time at which the running hold's pump-up began, [s]. */
  readonly pumpUpS?: number | null
}

export interface Settling {
  readonly ready: boolean
  /** Slope of the pressure now and a little before, [Pa/s]; null while too few readings have come. */
  readonly nowPaPerS: number | null
  readonly beforePaPerS: number | null
  /** The hold starts without a tap in so many seconds; null while it does not. */
  readonly startsInS: number | null
}

/** A fall that no leak of the interval explains. */
export interface PressureLost {
  readonly section: string
  /** Bench time at which it was seen, [s]. */
  readonly atS: number
  /** Gauge pressure before and then, [Pa]. */
  readonly fromPa: number
  readonly toPa: number
}

export type LostAnswer = InferOutput<typeof lostBody>['answer']

/** One number of a logger's stream, whether or not a channel of the system file uses it. */
export interface SeenField {
  readonly measurement: string
  readonly field: string
  readonly tags: Readonly<Record<string, string>>
  /** As sent, without scaling. */
  readonly raw: number
  /** Unit that the logger writes beside it. */
  readonly unit?: string
  readonly timeS: number
  /** Channel id that takes it; null when none does. */
  readonly channel: string | null
}

export interface CompensatedCurve {
  readonly section: string
  readonly timeS: readonly number[]
  readonly compensatedPa: readonly number[]
}

/** Addresses under which others can open the page. */
export interface Sharing {
  /** True while the server listens on this machine only. */
  readonly loopbackOnly: boolean
  /** What to do to let others in, one sentence. */
  readonly advice: string
  readonly links: readonly { readonly role: LiveState['role']; readonly url: string }[]
}

export interface Alarm {
  readonly code:
    | 'over-pressure'
    | 'ramp-too-fast'
    /** The pressure fell as no leak explains: vented without a mark, or a joint let go. */
    | 'pressure-fell'
    | 'logger-silent'
    | 'logger-unplugged'
    /** It sends what is no reading: a missed header, a wrong baud rate. */
    | 'logger-unread'
    | 'disk-full'
    | 'clock-jump'
    /** A hold ended and is not in the archive yet; it is tried again by itself. */
    | 'not-sealed'
    /** A hold ended and never gets a record: its recording is kept, and it proves nothing. */
    | 'set-aside'
  readonly message: string
  /** SI figures of the message: the page words it in its reader's units. */
  readonly values?: ReasonValues
}

export interface NewestReading {
  readonly timeS: number
  readonly reading: number
  /** The last five seconds as they were read, without captures of zero: what a capture or a calibration point takes. */
  /** No reading came for so long, [s] of our own time; null while they come. */
  readonly quietS?: number | null
  readonly lately?: { readonly asRead: number; readonly low: number; readonly high: number }
}

export interface LiveState {
  readonly version: string
  readonly systemName: string
  /** Another number than before: the system file was changed, here or by another page. */
  readonly systemChanges: number
  /** 1 for a real bench; the demo bench may run faster and says so. */
  readonly speed: number
  readonly demo: boolean
  /** Which aircraft of the workshop the bench is for; absent where there is one. */
  readonly aircraft?: string
  /** Who drives the demo bench, and what the automatic operator is doing; absent on a real bench. */
  readonly demoOperator?: { readonly who: 'automatic' | 'you'; readonly says: string }
  /** Bench time, seconds from the session's start; null before the first sample. */
  readonly nowS: number | null
  readonly recording: string | null
  /** Newest reading of each channel, SI, with captures of its zero applied and before its calibration. */
  readonly newest: Readonly<Record<string, NewestReading>>
  readonly ports: readonly PortState[]
  readonly hold: RunningHold | null
  /** The hold that was sealed last, with its record id. */
  readonly last: { readonly record: string; readonly result: HoldResult } | null
  /** True between the end of a hold and its record. */
  readonly sealing?: boolean
  readonly alarms: readonly Alarm[]
  readonly marks: readonly {
    /** Epoch nanoseconds as text: what a correction names. */
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

/** A state in the stream: the looks are left out while they are those of the event before. The first one has all. */
export type StreamedState = Omit<LiveState, 'hold'> & {
  readonly hold: (Omit<RunningHold, 'looks'> & Partial<Pick<RunningHold, 'looks'>>) | null
}

/** What was marked in the recording of a record, in the order of time. */
export interface RecordMarks {
  readonly marks: readonly {
    /** Seconds from the start of the recording, as its columns count them. */
    readonly timeS: number
    readonly time: string
    readonly kind: string
    readonly id: string | null
    readonly text: string
    /** Name of the photo that belongs to it. */
    readonly photo?: string
  }[]
  /** What the operator checked before the pump-up. */
  readonly stateSheet: readonly string[]
}

/** One sensor of a hold that is about to start. */
export interface StartCheck {
  readonly channel: string
  /** `blocks`: no hold can start. */
  readonly state: 'ready' | 'notice' | 'blocks'
  /** One sentence in the reader's units; empty when all is well. */
  readonly message: string
  /** The gauge to be screwed on and marked there, for one that is moved. */
  readonly place?: { readonly gauge: string; readonly section: string }
}

export type StartHold = Omit<InferOutput<typeof startHoldBody>, 'dry'> & { readonly dry?: boolean }
export type NewMark = InferOutput<typeof markBody>

/** A look as it is kept: the server's clock and the person's name stand on it. */
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

/** The sheet of one stage of the fuelling checks as it grows on disk; judging reads it as it stands. */
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
    /** Who did what, when: stamped by the server. */
    readonly journal: readonly { readonly at: string; readonly by: string; readonly did: string }[]
  }
}

/** What was understood of a file that was dropped, and what became of it. */
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
  /** Empty while it is only looked at. */
  readonly records: readonly string[]
}

/** A first system file of a generic layout, for one way to measure. */
export interface FirstFile {
  readonly layout: string
  readonly about: string
  readonly instruments: string
  /** What these are, in words. */
  readonly with: string
  readonly text: string
}

export interface SystemFileError {
  readonly line: number
  readonly column: number
  readonly message: string
}
