import type { Recording } from '#analysis/model/samples.ts'
import type { NewMark } from '#dashboard/api.ts'
import type { Archive } from '#dashboard/archive/archive.ts'
import { AnalysisThread } from './analysis-thread.ts'
import { HoldNoteFile } from './hold-note.ts'
import { type LineOptions, RecordedLines } from './recorded-lines.ts'
import type { SessionPort } from './session-ports.ts'
import { SessionRecording } from './session-recording.ts'
import type { HoldStage } from './stage-machine.ts'
import type { SystemFileOnDisk } from './system-file-on-disk.ts'

export interface SessionOptions extends LineOptions {
  readonly systemFile: SystemFileOnDisk
  readonly archive: Archive
  readonly folder: string
  readonly ports: readonly SessionPort[]
  readonly version: string
  readonly demo?: boolean
  /** Aircraft of the workshop; absent where there is only one. */
  readonly aircraft?: string
  /** Called after a stage was marked, for the driver of the simulated bench. */
  readonly onStage?: (stage: HoldStage, hold: string) => void
  /** Called after a user's mark was written. */
  readonly onMark?: (mark: NewMark) => void
}

/** Shared state of a bench session: its lines, the archive, the note of the running hold and the analysis. */
export class SessionCore extends RecordedLines<SessionOptions> {
  readonly archive: Archive
  readonly note: HoldNoteFile
  readonly thread = new AnalysisThread()

  constructor(options: SessionOptions, recording = new SessionRecording(options.folder)) {
    super(options, recording)
    this.archive = options.archive
    this.note = new HoldNoteFile(options.folder)
  }

  /** Takes over the readings of a killed program, as read: captures of zero not applied. */
  adopt(recording: Recording): void {
    this.startNs = BigInt(recording.startNs)
    for (const { channel, timeS, reading } of recording.channels) {
      for (const [index, each] of reading.entries()) this.channels.sample(channel, timeS[index]!, each)
    }
    this.channels.takeBatch()
    for (const mark of recording.marks) this.add(mark)
  }
}
