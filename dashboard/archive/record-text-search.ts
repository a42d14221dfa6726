import type { SealedRecord } from './record.ts'
import { recordSubject } from './record-summary.ts'

/** True when every word of the query occurs, ignoring case, in the memorable fields of the record. */
export function matchesText(record: SealedRecord, query: string): boolean {
  const { reasons, fittings } = record.result as {
    reasons?: readonly { message?: string }[]
    fittings?: readonly { id?: string }[]
  }
  const haystack = [
    record.id,
    recordSubject(record),
    record.operator,
    record.witness,
    record.note,
    record.system.name,
    record.recording?.name,
    ...(Array.isArray(reasons) ? reasons.map((reason) => reason.message) : []),
    ...(Array.isArray(fittings) ? fittings.map((fitting) => fitting.id) : []),
  ]
    .join('\n')
    .toLowerCase()
  return query
    .toLowerCase()
    .split(/\s+/)
    .every((word) => haystack.includes(word))
}
