import { mkdtempSync, readFileSync, rmSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { analyzeRecording } from '#analysis/verdict/analyze-recording.ts'
import { type Archive, openArchive } from '#dashboard/archive/archive.ts'
import type { RecordDraft, SealedRecord } from '#dashboard/archive/record.ts'
import { readRecordingFile } from '#ingest/recording/read-recording.ts'
import { readSystemFile } from '#ingest/system-file/read-system-file.ts'

const recordings = new URL('../../../recordings/', import.meta.url)
export const demoSystem = new URL('floatplane.yaml', recordings).pathname
export const demoRecording = (name: Recording): string => new URL(`${name}.lp`, recordings).pathname
const systemText = readFileSync(demoSystem, 'utf8')
const system = readSystemFile(systemText, 'floatplane.yaml').system!

/** Version that seals, prints and verifies in the attacks: that of the built program. */
export const version: string = JSON.parse(
  readFileSync(new URL('../../../package.json', import.meta.url), 'utf8'),
).version

export type Recording = 'lines-leak' | 'lines-retest' | 'void-gap'

/** A workshop with an archive of its own, for attacks: everything lies in one folder that is removed at the end. */
export class Workshop {
  readonly home = mkdtempSync(join(tmpdir(), 'stillhold-attack-'))
  readonly folder = join(this.home, 'archive')
  readonly archive: Archive
  /** What was said about the clock. */
  readonly said: string[] = []
  #nowMs = Date.UTC(2026, 3, 11, 9)

  constructor() {
    this.archive = this.open()
  }

  /** Opens the archive as the program does; its clock goes on a minute with every seal. */
  open(): Archive {
    const now = () => {
      this.#nowMs += 60_000
      return new Date(this.#nowMs)
    }
    const caution = (line: string) => void this.said.push(line)
    return openArchive(this.folder, { programVersion: version, now, caution })
  }

  setClock(timeMs: number): void {
    this.#nowMs = timeMs
  }

  path(name: string): string {
    return join(this.home, name)
  }

  hold(name: Recording): SealedRecord {
    const path = demoRecording(name)
    const [analysis] = analyzeRecording(readRecordingFile(path, system), system)
    return this.seal({ kind: 'hold', recordingPath: path, result: analysis.result })
  }

  work(fitting: string, timeNs = '1775893500000000000'): SealedRecord {
    const result = { stillhold: 1, id: fitting, action: 'retighten', time_ns: timeNs }
    return this.seal({ kind: 'work', recordingPath: null, result })
  }

  seal(
    draft: Pick<RecordDraft, 'kind' | 'recordingPath' | 'result'> & Partial<RecordDraft>,
    archive = this.archive,
  ): SealedRecord {
    return archive.seal({
      systemText,
      systemName: system.name,
      operator: 'A. B.',
      origins: [{ channel: 'p-lines', kind: 'serial', name: '/dev/ttyUSB0', sha256: null }],
      ...draft,
    })
  }

  /** Closes the archive and removes everything. */
  remove(): void {
    this.archive.close()
    rmSync(this.home, { recursive: true, force: true })
  }
}

/** Runs `use` in a workshop of its own. */
export async function inWorkshop<T>(use: (workshop: Workshop) => Promise<T> | T): Promise<T> {
  const workshop = new Workshop()
  try {
    return await use(workshop)
  } finally {
    workshop.remove()
  }
}
