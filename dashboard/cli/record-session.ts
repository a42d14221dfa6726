import { basename, dirname } from 'node:path'
import type { Origin } from '#analysis/model/origin.ts'
import type { System } from '#analysis/model/system.ts'
import { RecordedLines } from '#dashboard/server/session/recorded-lines.ts'
import type { NewSessionMark } from '#dashboard/server/session/session-marks.ts'
import { BenchPort, type PortReceiver, type SessionPort } from '#dashboard/server/session/session-ports.ts'
import { SessionRecording } from '#dashboard/server/session/session-recording.ts'
import type { IntakeState } from '#ingest/intake/intake.ts'
import type { Arrival } from '#ingest/sources/port.ts'
import type { PlannedStage } from './planned-stages.ts'
import { stageMark } from './typed-mark.ts'

export interface RecordSessionOptions {
  /** File of the recording. */
  readonly out: string
  readonly system: System | null
  readonly forward?: (line: string) => void
  /** Hold id for stage marks. */
  readonly hold: string | null
  readonly planned: readonly PlannedStage[]
  /** One line for the user. */
  readonly say: (message: string) => void
  /** The planned stages are finished, or the disk refuses. */
  readonly stop: (fault: string | null) => void
  /** Both clocks of this computer; for tests. */
  readonly clock?: () => Arrival
}

/** The session of `record`: lines as at the bench, into one file, without holds and archive. */
export class RecordSession extends RecordedLines {
  override readonly recording: CountedRecording
  readonly #hold: string | null
  readonly #say: (message: string) => void
  readonly #stop: RecordSessionOptions['stop']
  readonly #states: ((monotonicNs: bigint) => IntakeState)[] = []
  readonly #planned: PlannedStage[]
  #firstNs: bigint | null = null
  #shown = ''

  /** @throws RecordingFault when the file cannot be opened or is not a recording */
  constructor({ out, system, forward, hold, planned, say, stop, clock }: RecordSessionOptions) {
    const recording = new CountedRecording(dirname(out), clock)
    super({ systemFile: { system: system ?? { channels: [], sections: [] } }, forward }, recording)
    this.recording = recording
    this.#hold = hold
    this.#say = say
    this.#stop = stop
    this.#planned = [...planned]
    this.follower.arrived = (timeNs) => {
      this.#firstNs ??= timeNs
      this.#markStages(timeNs)
    }
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

  /** To be called regularly, so that planned stages begin even when a logger is silent. */
  tick(): void {
    const nowNs = this.clock.nowNs()
    if (nowNs !== null) this.#markStages(nowNs)
  }

  /** A fault of a port comes as its message and as its mark. */
  #tell(text: string | number | undefined): void {
    if (typeof text !== 'string' || text === this.#shown) return
    this.#shown = text
    this.#say(text)
  }

  /** Marks the planned stages that are due, each at its own time. */
  #markStages(nowNs: bigint): void {
    const startNs = this.#firstNs
    for (let [next] = this.#planned; next && startNs !== null; [next] = this.#planned) {
      if (nowNs < startNs + next.afterNs) return
      this.#planned.shift()
      this.mark(stageMark(next.name, this.#hold), startNs + next.afterNs)
      this.#say(`stage: ${next.name}`)
      if (next.name === 'end') this.#stop(null)
    }
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
