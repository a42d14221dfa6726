import type { Archive } from '#dashboard/archive/archive.ts'
import { goesOnWithinS, type HoldConductor } from './hold-conductor.ts'
import type { HoldNoteFile } from './hold-note.ts'
import type { NewSessionMark } from './session-marks.ts'
import type { SessionReadings } from './session-readings.ts'
import type { SessionRecording } from './session-recording.ts'
import type { SystemFileOnDisk } from './system-file-on-disk.ts'
import { takeUpHold } from './take-up-hold.ts'

export interface LeftHoldParts {
  readonly note: HoldNoteFile
  readonly archive: Archive
  readonly recording: SessionRecording
  readonly readings: SessionReadings
  readonly conductor: HoldConductor
  readonly systemFile: SystemFileOnDisk
  mark(mark: NewSessionMark, timeNs: bigint): void
  log(line: string): void
}

/** The hold that was running when the program ended: goes on when the logger does so in time, and is sealed otherwise. */
export class LeftHold {
  readonly #parts: LeftHoldParts
  /** Set while it waits for the logger. */
  #firstReading: ((timeNs: bigint) => void) | null = null

  constructor(parts: LeftHoldParts) {
    this.#parts = parts
  }

  /** @throws Error when the note of the hold cannot be read */
  takeUp(): void {
    const { note: noteFile, archive, recording, readings, conductor, systemFile, log } = this.#parts
    const note = noteFile.read()
    if (!note) return
    if (archive.evidence().some((sealed) => sealed.recording?.name === note.recording)) {
      // Sealed already: the program ended between the seal and the end of its note.
      noteFile.clear()
      return
    }
    const left = takeUpHold(note, recording.folder, systemFile)
    if (left.kind === 'ended') {
      log(left.why)
      conductor.sealInterrupted(note, left.why)
      return
    }
    recording.continue(note.recording)
    readings.adopt(left.recording)
    conductor.resume(note, left.recording, readings.channels)
    log(`the hold ${note.hold} was running when the program ended: waiting for the logger to go on`)
    this.#waitForLogger(left.lastNs)
  }

  /** A sample arrived. */
  arrived(timeNs: bigint): void {
    this.#firstReading?.(timeNs)
  }

  #waitForLogger(lastNs: bigint): void {
    const giveUp = (why: string) => {
      clearTimeout(patience)
      this.#firstReading = null
      this.#parts.conductor.interrupt(why, lastNs)
    }
    const patience = setTimeout(
      () => giveUp(`no reading came for ${goesOnWithinS} s after a restart`),
      goesOnWithinS * 1000,
    )
    patience.unref()
    this.#firstReading = (timeNs) => {
      clearTimeout(patience)
      this.#firstReading = null
      const seconds = Number(timeNs - lastNs) / 1e9
      const text = `the program was restarted; nothing was recorded for ${seconds.toFixed(1)} s`
      if (seconds < 0 || seconds > goesOnWithinS) giveUp(text)
      else this.#parts.mark({ kind: 'gap', fields: { seconds, text } }, timeNs)
    }
  }
}
