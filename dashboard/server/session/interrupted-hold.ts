import { existsSync, readFileSync } from 'node:fs'
import { join } from 'node:path'
import type { Recording } from '#analysis/model/samples.ts'
import { readRecording } from '#ingest/recording/read-recording.ts'
import { goesOnWithinS, type HoldController } from './hold-controller.ts'
import type { HoldNote } from './hold-note.ts'
import type { SessionCore } from './session-core.ts'
import type { SystemFileOnDisk } from './system-file-on-disk.ts'

/** The hold that was running when the program ended: continued when the logger returns in time, else sealed. */
export class InterruptedHold {
  readonly #core: SessionCore
  readonly #controller: HoldController
  /** Set while waiting for the logger. */
  #firstReading: ((timeNs: bigint) => void) | null = null

  constructor(core: SessionCore, controller: HoldController) {
    this.#core = core
    this.#controller = controller
  }

  /** @throws Error when the note of the hold cannot be read */
  resume(): void {
    const { note: noteFile, archive, recording, systemFile, log } = this.#core
    const note = noteFile.read()
    if (!note) return
    if (archive.evidence().some((sealed) => sealed.recording?.name === note.recording)) {
      // Already sealed: the program ended between the seal and the removal of its note.
      noteFile.clear()
      return
    }
    const left = readInterrupted(note, recording.folder, systemFile)
    if (left.kind === 'ended') {
      log(left.why)
      this.#controller.sealer.add(note, left.why)
      return
    }
    recording.continue(note.recording)
    this.#core.adopt(left.recording)
    this.#controller.resume(note, left.recording)
    log(`the hold ${note.hold} was running when the program ended: waiting for the logger to continue`)
    this.#waitForLogger(left.lastNs)
  }

  arrived(timeNs: bigint): void {
    this.#firstReading?.(timeNs)
  }

  #waitForLogger(lastNs: bigint): void {
    const giveUp = (why: string) => {
      clearTimeout(patience)
      this.#firstReading = null
      this.#controller.interrupt(why, lastNs)
    }
    const patience = setTimeout(
      () => giveUp(`no reading for ${goesOnWithinS} s after a restart`),
      goesOnWithinS * 1000,
    )
    patience.unref()
    this.#firstReading = (timeNs) => {
      clearTimeout(patience)
      this.#firstReading = null
      const seconds = Number(timeNs - lastNs) / 1e9
      const text = `the program was restarted; nothing was recorded for ${seconds.toFixed(1)} s`
      if (seconds < 0 || seconds > goesOnWithinS) giveUp(text)
      else this.#core.mark({ kind: 'gap', fields: { seconds, text } }, timeNs)
    }
  }
}

type Interrupted =
  /** It may continue: its recording so far, captures of zero not applied. */
  | { readonly kind: 'open'; readonly recording: Recording; readonly lastNs: bigint }
  /** Why it cannot continue. */
  | { readonly kind: 'ended'; readonly why: string }

/** Examines the running hold that a killed program left. */
function readInterrupted(note: HoldNote, folder: string, systemFile: SystemFileOnDisk): Interrupted {
  const path = join(folder, note.recording)
  const left = (why: string): Interrupted => ({
    kind: 'ended',
    why: `the hold ${note.hold} ended with the program: ${why}`,
  })
  if (!existsSync(path)) return left(`its recording ${note.recording} is missing`)
  if (systemFile.text !== note.systemText) return left('the system file has been changed since')
  if (note.stage === 'vent' && note.begun.end !== undefined)
    return left('it had ended and was not sealed yet')
  // As read: the session applies the captures of zero for display, the analysis for its looks.
  const recording = readRecording(readFileSync(path), systemFile.system, note.recording, { asRead: true })
  const lastS = Math.max(...recording.channels.map(({ timeS }) => timeS.at(-1) ?? 0), 0)
  return { kind: 'open', recording, lastNs: BigInt(recording.startNs) + BigInt(Math.round(lastS * 1e9)) }
}
