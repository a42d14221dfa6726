import { createHmac } from 'node:crypto'
import { statSync } from 'node:fs'
import type { Mark, Recording } from '#analysis/model/samples.ts'
import type { System } from '#analysis/model/system.ts'
import { mayCorrect } from '#ingest/recording/corrected-marks.ts'
import { readRecording, readRecordingFile } from '#ingest/recording/read-recording.ts'
import type { ArchiveFolder } from './archive-folder.ts'
import { systemOfRecord } from './recompute-hold.ts'
import type { KnownRecord, SealedRecord } from './record.ts'
import type { SigningKey } from './signing-key.ts'
import { SqliteError } from './store/open-sqlite.ts'
import type { IndexedRecord, RecordIndex } from './store/record-index.ts'
import { sha256Hex } from './write-durably.ts'

/** Recordings above this are not read a second time when they are sealed, [bytes]. */
const mostBytes = 50e6

/** A record of an archive as its index knows it. */
export interface IndexedGist extends KnownRecord {
  readonly chain: string
  readonly id: string
}

/** Writes and reads the gists of an archive's index: records without the text of their system file, with their marks. */
export class Gists {
  readonly #paths: ArchiveFolder
  readonly #secret: string

  /** @param version of the program: another one may read marks in another way */
  constructor(paths: ArchiveFolder, key: SigningKey, version: string) {
    this.#paths = paths
    // A signature by this key is known to nobody without it: whoever changes the index alone is noticed.
    this.#secret = key.sign(`stillhold index, version ${version}`)
  }

  /** Puts the gist of a record whose file is as sealed. */
  put(index: RecordIndex, row: IndexedRecord): IndexedGist {
    const known = this.#known(row)
    const { chain, id, sha256, record, recording } = known
    const isShort = (record.recording?.bytes ?? 0) <= mostBytes
    const marks = record.kind === 'hold' && isShort ? marksOrNull(record, recording) : null
    const { text, ...system } = record.system
    const without = { ...record, system: { ...system, text: sha256Hex(text) } }
    const lines = [chain, id, this.#stampOf(chain, id), sha256, JSON.stringify(without), marks ?? '']
    const content = lines.join('\n')
    index.putGist(chain, id, `${this.#mac(content)}\n${content}`)
    return { ...known, marks }
  }

  /** All records of an index from their texts alone. */
  ofTexts(index: RecordIndex): IndexedGist[] {
    return index.chains().flatMap((chain) => index.chain(chain).map((row) => this.#known(row)))
  }

  /** The records whose gists were written by this version for their files as they are now. */
  fitting(index: RecordIndex): IndexedGist[] {
    const systems = new Map<string, string>()
    return index.gists().flatMap((gist): IndexedGist[] => {
      const end = gist.indexOf('\n')
      const content = gist.slice(end + 1)
      const [chain = '', id = '', stamp = '', sha256 = '', text = '', marks] = content.split('\n')
      if (gist.slice(0, end) !== this.#mac(content)) return []
      if (stamp === '' || stamp !== this.#stampOf(chain, id)) return []
      const record: SealedRecord = JSON.parse(text)
      const hash = record.system.text
      let systemText = systems.get(hash)
      if (systemText === undefined) {
        const sealed = index.get(chain, id)?.text ?? ''
        if (sha256Hex(sealed) !== sha256) return []
        systemText = (JSON.parse(sealed) as SealedRecord).system.text
        systems.set(hash, systemText)
      }
      const whole = { ...record, system: { ...record.system, text: systemText } }
      return [
        { chain, id, record: whole, sha256, recording: this.#recordingOf(record), marks: marks || null },
      ]
    })
  }

  /**
   * All records of an index that is exactly what the record files are, by size, times and inode of each; null when a file
   * was changed, added or removed, or another version of the program wrote the index.
   */
  read(index: RecordIndex): IndexedGist[] | null {
    try {
      const known = this.fitting(index)
      const files = ['', ...this.#paths.foreignChains()].map((chain) => this.#paths.recordIds(chain).length)
      return known.length === files.reduce((sum, count) => sum + count, 0) ? known : null
    } catch (cause) {
      if (cause instanceof SqliteError) return null
      throw cause
    }
  }

  #known({ chain, id, sha256, text }: IndexedRecord): IndexedGist {
    const record: SealedRecord = JSON.parse(text)
    return { chain, id, record, sha256, recording: this.#recordingOf(record), marks: null }
  }

  #recordingOf({ recording }: SealedRecord): string | null {
    return recording && this.#paths.recordingFile(recording.sha256)
  }

  /** State of a record file; a change of its bytes changes it, whatever time the file claims. */
  #stampOf(chain: string, id: string): string {
    const stat = statSync(this.#paths.recordFile(chain, id), { bigint: true, throwIfNoEntry: false })
    return stat === undefined ? '' : `${stat.size} ${stat.mtimeNs} ${stat.ctimeNs} ${stat.ino}`
  }

  #mac(content: string): string {
    return createHmac('sha256', this.#secret).update(content).digest('base64')
  }
}

export const readKept = ({ id }: SealedRecord, recording: Uint8Array | string, system: System): Recording =>
  typeof recording === 'string' ? readRecordingFile(recording, system) : readRecording(recording, system, id)

/** The marks that a person or the logger made in the recording of a hold; null when its system file cannot be read. */
export function recordedMarks(record: SealedRecord, recording: KnownRecord['recording']): Mark[] | null {
  const { system } = systemOfRecord(record)
  if (system === null || recording === null) return null
  // Without channels no column is filled.
  const { marks } = readKept(record, recording, { ...system, channels: [] })
  return marks.filter((mark) => mayCorrect(mark) || mark.kind === 'correction')
}

/** A recording that cannot be read does not keep a record from being sealed: whoever needs its marks is told. */
function marksOrNull(record: SealedRecord, recording: KnownRecord['recording']): string | null {
  try {
    const marks = recordedMarks(record, recording)
    return marks && JSON.stringify(marks)
  } catch {
    return null
  }
}
