import { existsSync, readFileSync } from 'node:fs'
import { join } from 'node:path'
import type { Recording } from '#analysis/model/samples.ts'
import type { Archive } from '#dashboard/archive/archive.ts'
import { readRecording } from '#ingest/recording/read-recording.ts'
import { goesOnWithinS, type HoldController } from './hold-controller.ts'
import type { HoldNote, HoldNoteFile } from './hold-note.ts'
import type { NewSessionMark } from './session-marks.ts'
import type { SessionReadings } from './session-readings.ts'
import type { SessionRecording } from './session-recording.ts'
import type { SystemFileOnDisk } from './system-file-on-disk.ts'

export interface InterruptedHoldParts {
  readonly note: HoldNoteFile
  readonly archive: Archive
  readonly recording: SessionRecording
  readonly readings: SessionReadings
  readonly controller: HoldController
  readonly systemFile: SystemFileOnDisk
  mark(mark: NewSessionMark, timeNs: bigint): void
  log(line: string): void
}

/** The hold that was running when the program ended: goes on when the logger does so in time, and is sealed otherwise. */
export class InterruptedHold {
  readonly #parts: InterruptedHoldParts
  /** Set while it waits for the logger. */
  #firstReading: ((timeNs: bigint) => void) | null = null

  constructor(parts: InterruptedHoldParts) {
    this.#parts = parts
  }

  /** @throws Error when the note of the hold cannot be read */
  resume(): void {
    const { note: noteFile, archive, recording, readings, controller, systemFile, log } = this.#parts
    const note = noteFile.read()
    if (!note) return
    if (archive.evidence().some((sealed) => sealed.recording?.name === note.recording)) {
      // Sealed already: the program ended between the seal and the end of its note.
      noteFile.clear()
      return
    }
    const left = readInterrupted(note, recording.folder, systemFile)
    if (left.kind === 'ended') {
      log(left.why)
      controller.sealInterrupted(note, left.why)
      return
    }
    recording.continue(note.recording)
    readings.adopt(left.recording)
    controller.resume(note, left.recording, readings.channels)
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
      this.#parts.controller.interrupt(why, lastNs)
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

type Interrupted =
  /** It may go on: its recording as far as it came, captures of zero not applied. */
  | { readonly kind: 'open'; readonly recording: Recording; readonly lastNs: bigint }
  /** It cannot go on, and why. */
  | { readonly kind: 'ended'; readonly why: string }

/** Looks at what a killed program left of a running hold. */
function readInterrupted(note: HoldNote, folder: string, systemFile: SystemFileOnDisk): Interrupted {
  const path = join(folder, note.recording)
  const left = (why: string): Interrupted => ({
    kind: 'ended',
    why: `the hold ${note.hold} ended with the program: ${why}`,
  })
  if (!existsSync(path)) return left(`its recording ${note.recording} is gone`)
  if (systemFile.system === null || systemFile.text !== note.systemText)
    return left('the system file has been changed since')
  if (note.stage === 'vent' && note.begun.end !== undefined)
    return left('it had ended and was not sealed yet')
  // As read: the session applies the captures of zero to what it shows, the analysis to what it looks at.
  const recording = readRecording(readFileSync(path), systemFile.system, note.recording, { asRead: true })
  const lastS = Math.max(...recording.channels.map(({ timeS }) => timeS.at(-1) ?? 0), 0)
  return { kind: 'open', recording, lastNs: BigInt(recording.startNs) + BigInt(Math.round(lastS * 1e9)) }
}
