import type { Estimate, HoldResult, ReasonValues, Verdict } from '#analysis/model/hold-result.ts'

/**
 * What the page and the server say to each other. Everything is SI and JSON; columns are plain number arrays.
 *
 * GET  /api/state                    → LiveState
 * GET  /api/stream                   → server-sent events; each has an id, and Last-Event-ID resumes:
 *        `samples` (SampleBatch, at most 10 a second), `state` (StreamedState), `beat` (every 5 s),
 *        `restart` (what came since Last-Event-ID is no longer kept: fetch /api/live again)
 * GET  /api/live?from=S&points=N     → MinMaxColumns[] of the running session
 * POST /api/hold/start               StartHold   → LiveState   (marks pump-up)
 * POST /api/hold/stage               { stage: 'settle'|'hold'|'vent'|'end', reason? } → LiveState   (why it ends early)
 * POST /api/hold/lost                { answer: LostAnswer } → LiveState   (what let the pressure off)
 * POST /api/hold/photo               { fitting, base64 } → LiveState   (a photo taken at the running hold)
 * POST /api/mark                     NewMark     → LiveState
 * POST /api/typed                    { readings: { channel: number } } → LiveState   (read by eye just now)
 * GET  /api/system                   → { text: string, system: System | null, errors: SystemFileError[] }
 * GET  /api/layouts                  → FirstFile[]
 * PUT  /api/system                   { text }    → the same with { saved }: it is saved when nothing is wrong in it
 * PUT  /api/system/calibration       WrittenCalibration → as PUT /api/system; nothing else of the file's text changes
 * POST /api/plan?units=              { hold }    → Plan   (units=psi,degF,L: the reader's units; the aircraft's without it)
 * GET  /api/records?verdict=&section=&kind=&text= → RecordSummary[]
 * GET  /api/records/:id              → OpenRecord with curves as number arrays
 * GET  /api/records/:id/columns?from=S&to=S&points=N → MinMaxColumns[]
 * GET  /api/records/:id/marks        → RecordMarks
 * GET  /api/records/:id/{report.pdf,recording.lp,record.json,samples.csv}
 * GET  /api/ledger                   → Ledger
 * GET  /api/hunt?units=              → HuntResult
 * GET  /api/history                  → HistoryHold[]
 * GET  /api/campaign                 → Campaign;   …/campaign.pdf → the sheet for the wall
 * GET  /api/dossier.pdf
 * GET  /api/ports                    → PortState[]
 * POST /api/demo                     { operator: 'automatic'|'you' } → LiveState   (demo bench only)
 * A device from the network first gives its code at /join and gets a cookie; a page asked for without one leads there.
 * POST /api/ports/fix                { name, baudRate? | columns? } → PortState[]   (another bit rate; names of the columns)
 * GET  /api/hold/checks?hold=&units= → StartCheck[]   (each sensor of the hold: alive, missing or in contradiction)
 * POST /api/ports/confirm            { name } → PortState[]   (the user confirms the detected dialect)
 * GET  /api/wet                   → { stages, scheme, ranges }   (checklist, seep classes, torque ranges)
 * GET  /api/wet/sheets              → SavedSheet[]   (open sheets of the fuelling checks)
 * POST /api/wet/sheets             { stage, sections, by } → SavedSheet   (the open one where there is one)
 * POST /api/wet/sheets/:id/entry   { by, kind, … } → SavedSheet   (one entry, stamped with the server's time)
 * POST /api/wet/sheets/:id/judge   { seal, operator?, photos? } → { results, records };   …/put-aside → SavedSheet[]
 * POST /api/{wet,flow,torque,level} { sheet, seal, operator?, photos? } → { results, records }   (see docs/wet-work.md)
 * GET  /api/fields                   → SeenField[]   (every number the loggers have sent, mapped or not)
 * GET  /api/live/compensated         → CompensatedCurve[] of the running hold, so that a page opened late has them
 * GET  /api/sharing                  → Sharing
 * Every POST and PUT carries `content-type: application/json`.
 * Errors: status 4xx/5xx with { error: string } in one plain sentence: what, where, what to do.
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

/** Who let the pressure off: the operator, without a mark; a joint that let go; nobody knows; or it still holds. */
export type LostAnswer = 'vented' | 'let-go' | 'unknown' | 'still-holding'

/** One number of a logger's stream, whether or not a channel of the system file uses it. */
export interface SeenField {
  readonly measurement: string
  readonly field: string
  readonly tags: Readonly<Record<string, string>>
  /** As sent, without scaling. */
  readonly raw: number
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

export interface StartHold {
  readonly hold: string
  readonly operator: string | null
  readonly witness: string | null
  /** State sheet: each item checked by the operator, in words. */
  readonly stateSheet: readonly string[]
  /** False where fuel or its vapor is in a section of gas: such a hold cannot pass. Absent: dry. */
  readonly dry?: boolean
  readonly retests: string | null
}

export interface NewMark {
  readonly kind:
    | 'valve'
    | 'work'
    | 'look'
    | 'note'
    | 'zero'
    | 'stroke'
    | 'plug'
    | 'fill'
    | 'check'
    | 'supply'
    | 'place'
    | 'correction'
  readonly id?: string
  /** A correction states in `of` the time of the mark that it takes back, epoch nanoseconds as text. */
  readonly fields: Readonly<Record<string, string | number | boolean>>
  /** One key is one mark, however often it is sent: a phone without an answer sends it again. */
  readonly key?: string
  /** It was made so long ago, on a phone that had no network, [s]. */
  readonly agoS?: number
}

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
