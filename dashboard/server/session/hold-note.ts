import { existsSync, readFileSync, rmSync } from 'node:fs'
import { join } from 'node:path'
import * as v from 'valibot'
import { writeFileDurably } from '#dashboard/archive/write-durably.ts'
import { syncFolder } from '#ingest/recording/sync-folder.ts'

const fileName = v.pipe(v.string(), v.regex(/^[\w.-]+$/))

/** State of a running hold that must survive a kill of the program, beyond the recording. */
const shape = v.object({
  stillhold_running: v.literal(1),
  hold: v.string(),
  stage: v.picklist(['pump-up', 'settle', 'hold', 'vent']),
  /** Start of each stage, epoch nanoseconds as decimal text. */
  begun: v.record(v.string(), v.pipe(v.string(), v.regex(/^-?\d+$/))),
  /** In the folder of the session's recordings. */
  recording: fileName,
  systemText: v.string(),
  operator: v.nullable(v.string()),
  witness: v.nullable(v.string()),
  stateSheet: v.pipe(v.array(v.string()), v.readonly()),
  retests: v.nullable(v.string()),
  /** Why the hold can prove nothing more, such as a full disk; absent otherwise. */
  broken: v.optional(v.string()),
  /** Photos taken during the hold, beside its recording. */
  photos: v.optional(v.pipe(v.array(fileName), v.readonly())),
})
export type HoldNote = v.InferOutput<typeof shape>

/** File name of the note, in the folder of the session. */
export const noteName = 'running-hold.json'

/** The note on the running hold, in one file that exists until the hold is sealed. */
export class HoldNoteFile {
  readonly path: string
  readonly #folder: string

  constructor(folder: string) {
    this.#folder = folder
    this.path = join(folder, noteName)
  }

  /** @throws ArchiveError when the disk is full or read-only */
  write(note: HoldNote): void {
    writeFileDurably(this.path, `${JSON.stringify(note, null, 2)}\n`)
  }

  /** Null when no hold was running. @throws Error when the file exists but cannot be read */
  read(): HoldNote | null {
    if (!existsSync(this.path)) return null
    try {
      return v.parse(shape, JSON.parse(readFileSync(this.path, 'utf8')))
    } catch (cause) {
      throw new Error(
        `${this.path} is the note of a running hold but cannot be read: move it away; the recording beside it is kept`,
        { cause },
      )
    }
  }

  /** Moves aside the note of a hold that cannot be sealed. */
  setAside(note: HoldNote): void {
    writeFileDurably(
      join(this.#folder, `unsealed-${note.recording}.json`),
      `${JSON.stringify(note, null, 2)}\n`,
    )
    this.clear()
  }

  clear(): void {
    if (!existsSync(this.path)) return
    rmSync(this.path)
    syncFolder(this.#folder)
  }
}

/** Maximum photos per hold, against a faulty phone. */
const atMost = 40

/** Stores a photo beside the recordings until its hold is sealed; returns its name, null when there are too many. */
export function keepHoldPhoto(
  folder: string,
  kept: readonly string[],
  photo: { readonly fitting: string | null; readonly bytes: Uint8Array; readonly recording: string },
): string | null {
  if (kept.length >= atMost) return null
  const stem = photo.recording.replace(/\.lp$/, '')
  const name = `${stem}-photo-${kept.length + 1}${photo.fitting === null ? '' : `-${photo.fitting.replaceAll(/[^\w-]/g, '_')}`}.jpg`
  writeFileDurably(join(folder, name), photo.bytes)
  return name
}

/** The photos of an ended hold, in the archive's form. */
export function photosOf(
  folder: string,
  names: readonly string[],
): { readonly name: string; readonly bytes: Uint8Array }[] {
  return names.map((name) => ({ name, bytes: readFileSync(join(folder, name)) }))
}
