import { existsSync, readFileSync } from 'node:fs'
import { join } from 'node:path'
import type { Recording } from '#analysis/model/samples.ts'
import { readRecording } from '#ingest/recording/read-recording.ts'
import type { HoldNote } from './hold-note.ts'
import type { SystemFileOnDisk } from './system-file-on-disk.ts'

export type HoldLeft =
  /** It may go on: its recording as far as it came, captures of zero not applied. */
  | { readonly kind: 'open'; readonly recording: Recording; readonly lastNs: bigint }
  /** It cannot go on, and why. */
  | { readonly kind: 'ended'; readonly why: string }

/** Looks at what a killed program left of a running hold. */
export function takeUpHold(note: HoldNote, folder: string, systemFile: SystemFileOnDisk): HoldLeft {
  const path = join(folder, note.recording)
  const left = (why: string): HoldLeft => ({
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
