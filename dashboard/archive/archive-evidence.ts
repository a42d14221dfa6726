import type { Evidence, MarkEvidence } from '#analysis/model/evidence.ts'
import type { HoldResult } from '#analysis/model/hold-result.ts'
import type { Mark, MarkKind } from '#analysis/model/samples.ts'
import type { System } from '#analysis/model/system.ts'
import type { KeptRecord, SealedRecord } from '#dashboard/archive/record.ts'
import { withoutCorrected } from '#ingest/recording/corrected-marks.ts'
import { readRecording, readRecordingFile } from '#ingest/recording/read-recording.ts'
import { readSystemFile } from '#ingest/system-file/read-system-file.ts'

/** Marks that say something about fittings. */
const telling: readonly MarkKind[] = ['work', 'look', 'valve', 'plug', 'correction']

/** Turns sealed records into what hunt and ledger reason from; what was read once is not read again. */
export class ArchiveEvidence {
  readonly #read = new Map<string, readonly Evidence[]>()
  readonly #systems = new Map<string, System | null>()

  of(kept: readonly KeptRecord[]): Evidence[] {
    const evidence = kept.flatMap(({ record, recording }) => {
      const key = record.signature
      let evidence = this.#read.get(key)
      if (!evidence) {
        evidence = this.#evidenceOf(record, recording)
        this.#read.set(key, evidence)
      }
      return evidence
    })
    const marks = evidence.flatMap((one) => (one.kind === 'mark' ? [one.mark] : []))
    const standing = new Set(withoutCorrected(marks).filter(({ kind }) => kind !== 'correction'))
    return evidence.filter((one) => one.kind !== 'mark' || standing.has(one.mark))
  }

  #evidenceOf(record: SealedRecord, recording: KeptRecord['recording']): Evidence[] {
    const result = record.result as Readonly<Record<string, unknown>>
    switch (record.kind) {
      case 'hold': {
        const system = this.#system(record)
        if (!system) return []
        const { id, corrects, retests } = record
        const hold: Evidence = {
          kind: 'hold',
          record: id,
          result: result as unknown as HoldResult,
          system,
          corrects,
          retests,
        }
        return [hold, ...marksOf(record, recording, system)]
      }
      case 'work':
      case 'look':
      case 'plug':
      case 'correction':
        return [markOf(record, record.kind, result)]
      case 'wet':
        return wetOf(record, result)
      default:
        return []
    }
  }

  #system(record: SealedRecord): System | null {
    const { sha256, text } = record.system
    if (!this.#systems.has(sha256)) this.#systems.set(sha256, readSystemFile(text, record.id).system)
    return this.#systems.get(sha256) ?? null
  }
}

/** What was dry is proven, what wept has failed; a stage still open says nothing about the rest. */
function wetOf(record: SealedRecord, result: Readonly<Record<string, unknown>>): Evidence[] {
  const timeNs = String(result.time_ns ?? BigInt(Date.parse(record.sealed_at)) * 1_000_000n)
  const ids = (key: string): string[] => {
    const list = result[key]
    return Array.isArray(list) ? list.filter((id) => typeof id === 'string') : []
  }
  return [
    { passed: true, fittings: ids('proves') },
    { passed: false, fittings: ids('wept') },
  ]
    .filter(({ fittings }) => fittings.length > 0)
    .map((found) => ({ kind: 'wet', record: record.id, timeNs, ...found }))
}

function marksOf(record: SealedRecord, recording: KeptRecord['recording'], system: System): MarkEvidence[] {
  if (recording === null) return []
  // Only the marks are wanted: without channels no column is filled.
  const withoutChannels = { ...system, channels: [] }
  const { marks } =
    typeof recording === 'string'
      ? readRecordingFile(recording, withoutChannels)
      : readRecording(recording, withoutChannels, record.id)
  return marks
    .filter(({ kind }) => telling.includes(kind))
    .map((mark) => ({ kind: 'mark', record: record.id, mark }))
}

function markOf(
  record: SealedRecord,
  kind: 'work' | 'look' | 'plug' | 'correction',
  result: Readonly<Record<string, unknown>>,
): MarkEvidence {
  const { stillhold: _version, id, section: _section, time_ns, ...fields } = result
  const mark: Mark = {
    timeNs: String(time_ns),
    timeS: 0,
    kind,
    id: typeof id === 'string' ? id : null,
    hold: null,
    fields: fields as Mark['fields'],
  }
  return { kind: 'mark', record: record.id, mark }
}
