import { basename, dirname } from 'node:path'
import type { Origin } from '#analysis/model/origin.ts'
import type { System } from '#analysis/model/system.ts'
import { findUnit } from '#analysis/physics/units.ts'
import { RecordedLines } from '#dashboard/server/session/recorded-lines.ts'
import type { NewSessionMark } from '#dashboard/server/session/session-marks.ts'
import { BenchPort, type PortReceiver, type SessionPort } from '#dashboard/server/session/session-ports.ts'
import { SessionRecording } from '#dashboard/server/session/session-recording.ts'
import type { Forwarder } from '#ingest/forward/forwarder.ts'
import type { IntakeState } from '#ingest/intake/intake.ts'
import type { Arrival } from '#ingest/sources/port.ts'

export interface RecordSessionOptions {
  /** File of the recording. */
  readonly out: string
  readonly system: System | null
  readonly forward?: (line: string) => void
  /** One line for the user. */
  readonly say: (message: string) => void
  /** The disk refuses. */
  readonly stop: (fault: string) => void
  /** Both clocks of this computer; for tests. */
  readonly clock?: () => Arrival
}

/** The session of `record`: lines as at the bench, into one file, without holds and archive. */
export class RecordSession extends RecordedLines {
  override readonly recording: CountedRecording
  readonly #say: (message: string) => void
  readonly #states: ((monotonicNs: bigint) => IntakeState)[] = []
  #shown = ''

  /** @throws RecordingFault when the file cannot be opened or is not a recording */
  constructor({ out, system, forward, say, stop, clock }: RecordSessionOptions) {
    const recording = new CountedRecording(dirname(out), clock)
    super({ systemFile: { system: system ?? { channels: [], sections: [] } }, forward }, recording)
    this.recording = recording
    this.#say = say
    recording.onTrouble = stop
    recording.continue(basename(out))
  }

  /** @param closed called when the port's connection ends */
  listen({ port, dialect, tags }: SessionPort, closed?: () => void): BenchPort {
    const receiver = { ...this.receiver(port.origin ?? null), closed }
    // Only a logger that sends all the time has a clock to compare: a file or a replay comes as fast as it is read.
    const speed = port.joinsMidLine === true ? 1 : Number.POSITIVE_INFINITY
    const listener = new BenchPort({ port, dialect, tags }, speed, receiver)
    this.addState(() => listener.intakeState())
    return listener
  }

  /** The marks of the intake and of its clock check are also shown to the user. */
  override receiver(origin: Origin | null): PortReceiver {
    const receiver = super.receiver(origin)
    return {
      ...receiver,
      mark: (mark, arrival) => {
        this.#tell(mark.fields.text)
        receiver.mark(mark, arrival)
      },
      clockWrong: (fields, timeNs) => {
        this.#tell(fields.text)
        receiver.clockWrong(fields, timeNs)
      },
      say: (line) => this.#tell(line),
    }
  }

  addState(state: (monotonicNs: bigint) => IntakeState): void {
    this.#states.push(state)
  }

  states(): IntakeState[] {
    const now = process.hrtime.bigint()
    return this.#states.map((state) => state(now))
  }

  /** A fault of a port comes as its message and as its mark. */
  #tell(text: string | number | undefined): void {
    if (typeof text !== 'string' || text === this.#shown) return
    this.#shown = text
    this.#say(text)
  }
}

/** A recording that counts its points and its marks, without those of origins. */
class CountedRecording extends SessionRecording {
  points = 0
  marks = 0

  override line(line: string, arrival?: Arrival): void {
    super.line(line, arrival)
    if (/^mark[, ]/.test(line)) this.marks++
    else this.points++
  }

  override mark(mark: NewSessionMark, timeNs: bigint): void {
    super.mark(mark, timeNs)
    if (mark.kind !== 'origin') this.marks++
  }
}

/** Summary of a finished recording: one line of JSON, or lines for people. */
export function recordResult(
  out: string,
  session: RecordSession,
  forwarder: Forwarder | null,
  json: boolean,
): string {
  const states = session.states()
  const sum = (of: (state: (typeof states)[number]) => number) =>
    states.reduce((all, each) => all + of(each), 0)
  const result = {
    stillhold: 1,
    recording: out,
    points: session.recording.points,
    marks: session.recording.marks,
    rejected: sum(({ rejected }) => rejected),
    missing: sum(({ missing }) => missing),
    resets: sum(({ resets }) => resets),
    forwarded: forwarder?.state() ?? null,
  }
  if (json) return `${JSON.stringify(result)}\n`
  const { points, marks, rejected, missing, resets, forwarded } = result
  const recorded = `${out}: ${points} points, ${marks} marks, ${rejected} rejected, ${missing} missing, ${resets} resets\n`
  if (forwarded === null) return recorded
  const { sent, waiting, lost, refused } = forwarded
  return `${recorded}forwarded: ${sent} sent, ${waiting} waiting, ${lost} lost, ${refused} refused\n`
}

const shownAtMost = 6

/** One status line: time, points, faults, newest readings. */
export function progressLine(session: RecordSession, system: System | null, elapsedS: number): string {
  const parts = [clock(elapsedS), `${session.recording.points} points`]
  for (const { rejected, missing, fault, silentS, name } of session.states()) {
    if (rejected > 0) parts.push(`${rejected} rejected`)
    if (missing > 0) parts.push(`${missing} missing`)
    if (fault !== null) parts.push(`${name}: fault`)
    else if (silentS !== null && silentS > 3) parts.push(`${name}: silent ${Math.round(silentS)} s`)
  }
  const readings = system ? channelReadings(session, system) : rawReadings(session)
  return [...parts, ...readings.slice(0, shownAtMost)].join('  ')
}

/** The newest reading of each channel in the unit of the system file. */
function channelReadings({ channels }: RecordSession, system: System): string[] {
  return Object.entries(channels.newest()).map(([id, { reading }]) => {
    const channel = system.channels.find((one) => one.id === id)
    const found = channel ? findUnit(channel.unit) : null
    if (found === null) return `${id} ${short(reading)}`
    const { times, over, offset, symbol } = found.unit
    return `${id} ${short((reading * over) / times - offset)} ${symbol}`
  })
}

/** Without a system file, the newest numbers as sent. */
function rawReadings(session: RecordSession): string[] {
  return session.fields().map(({ field, tags, raw }) => {
    const { port } = tags
    return `${port === undefined ? field : `${port}.${field}`} ${short(raw)}`
  })
}

function short(value: number): string {
  return Number(value.toPrecision(5)).toString()
}

function clock(seconds: number): string {
  const whole = Math.floor(seconds)
  const two = (number: number) => String(number).padStart(2, '0')
  return `${Math.floor(whole / 3600)}:${two(Math.floor(whole / 60) % 60)}:${two(whole % 60)}`
}
