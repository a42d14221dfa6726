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

/** Maximum number of errors shown for a text that is no system file. */
const errorsShownAtMost = 100

/** The system file of the running session: holds only run against text that was read without error. */
export class SystemFileOnDisk {
  readonly path: string
  /** Number of changes since the program started. */
  changes = 0
  text: string
  system: System

  /** @throws the operating system's error when the file cannot be read; UnreadableFile with its first error */
  constructor(path: string) {
    this.path = path
    this.text = readFileSync(path, 'utf8')
    this.system = systemFromFile(this.text, basename(path))
  }

  reading(): SystemFileReading {
    return { text: this.text, system: this.system, errors: [] }
  }

  /** Reads the new text and, when it has no error, replaces the old one with it. */
  change(text: string): SystemFileReading {
    const { system, errors } = readSystemFile(text, basename(this.path))
    if (system === null) return { text, system, errors: errors.slice(0, errorsShownAtMost) }
    writeFileDurably(this.path, text)
    this.text = text
    this.system = system
    this.changes++
    return this.reading()
  }
}
