import { readFileSync } from 'node:fs'
import { basename } from 'node:path'
import type { System } from '#analysis/model/system.ts'
import type { SystemFileError } from '#dashboard/api.ts'
import { writeFileDurably } from '#dashboard/archive/write-durably.ts'
import { readSystemFile, systemFromFile } from '#ingest/system-file/read-system-file.ts'

export interface SystemFileReading {
  readonly text: string
  readonly system: System | null
  readonly errors: readonly SystemFileError[]
}

/** Of a text that is no system file at all the first errors tell enough. */
const toldAtMost = 100

/** The system file of the running session: what holds are run against is always text that was read without error. */
export class SystemFileOnDisk {
  readonly path: string
  /** How often it was changed since the program began. */
  changes = 0
  text: string
  system: System

  /** @throws the operating system's error when the file cannot be read; UnreadableFile with the first error in it */
  constructor(path: string) {
    this.path = path
    this.text = readFileSync(path, 'utf8')
    this.system = systemFromFile(this.text, basename(path))
  }

  reading(): SystemFileReading {
    return { text: this.text, system: this.system, errors: [] }
  }

  /** Reads the new text and, when nothing is wrong in it, writes it in place of the old. */
  change(text: string): SystemFileReading {
    const { system, errors } = readSystemFile(text, basename(this.path))
    if (system === null) return { text, system, errors: errors.slice(0, toldAtMost) }
    writeFileDurably(this.path, text)
    this.text = text
    this.system = system
    this.changes++
    return this.reading()
  }
}
