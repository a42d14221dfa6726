import { existsSync, readFileSync, rmSync } from 'node:fs'
import { join } from 'node:path'
import * as v from 'valibot'
import { writeFileDurably } from '#dashboard/archive/write-durably.ts'
import { syncFolder } from '#ingest/recording/sync-folder.ts'

/** What must survive a kill of the program while a hold runs, beside the recording itself. */
export interface HoldNote {
  readonly stillhold_running: 1
  readonly hold: string
  readonly stage: 'pump-up' | 'settle' | 'hold' | 'vent'
  /** When each stage began, epoch nanoseconds as decimal text. */
  readonly begun: Readonly<Record<string, string>>
  /** File name in the folder of the session's recordings. */
  readonly recording: string
  readonly systemText: string
  readonly operator: string | null
  readonly witness: string | null
  readonly stateSheet: readonly string[]
  readonly retests: string | null
  /** Why the hold can prove nothing more, such as a full disk; absent while it can. */
  readonly broken?: string
  /** File names of the photos taken during it, beside its recording. */
  readonly photos?: readonly string[]
}

const shape = v.object({
  stillhold_running: v.literal(1),
  hold: v.string(),
  stage: v.picklist(['pump-up', 'settle', 'hold', 'vent']),
  begun: v.record(v.string(), v.pipe(v.string(), v.regex(/^-?\d+$/))),
  recording: v.pipe(v.string(), v.regex(/^[\w.-]+$/)),
  systemText: v.string(),
  operator: v.nullable(v.string()),
  witness: v.nullable(v.string()),
  stateSheet: v.array(v.string()),
  retests: v.nullable(v.string()),
  broken: v.optional(v.string()),
  photos: v.optional(v.array(v.pipe(v.string(), v.regex(/^[\w.-]+$/)))),
}) satisfies v.GenericSchema<unknown, HoldNote>

/** The note on the running hold, in one file that is there while a hold is not sealed. */
export class HoldNoteFile {
  readonly path: string
  readonly #folder: string

  constructor(folder: string) {
    this.#folder = folder
    this.path = join(folder, 'running-hold.json')
  }

  /** @throws ArchiveError when the disk is full or read-only */
  write(note: HoldNote): void {
    writeFileDurably(this.path, `${JSON.stringify(note, null, 2)}\n`)
  }

  /** Null when no hold was running. @throws Error when the file is there and cannot be understood */
  read(): HoldNote | null {
    if (!existsSync(this.path)) return null
    try {
      return v.parse(shape, JSON.parse(readFileSync(this.path, 'utf8')))
    } catch (cause) {
      throw new Error(
        `${this.path} says that a hold was running but cannot be read: move it away; the recording beside it is kept`,
        { cause },
      )
    }
  }

  /** Keeps the note of a hold that cannot be sealed, out of the way of the next one. */
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
