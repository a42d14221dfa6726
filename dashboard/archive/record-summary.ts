import { type Verdict, verdictExitCode } from '#analysis/model/hold-result.ts'
import type { RecordDraft, RecordSummary, SealedRecord } from './record.ts'

/** Subject of the record: the hold's id, or the closest equivalent of other kinds of evidence. */
export function recordSubject(record: Pick<RecordDraft, 'kind' | 'result'>): string {
  const result = record.result as Readonly<Record<string, unknown>>
  for (const key of ['hold', 'subject', 'id', 'fitting', 'plug', 'channel', 'section']) {
    const value = result[key]
    if (typeof value === 'string' && value !== '') return value
  }
  return record.kind
}

/** The verdict of a record; null for evidence without one. */
export function recordVerdict(record: Pick<RecordDraft, 'result'>): Verdict | null {
  const verdict = (record.result as { verdict?: unknown }).verdict
  return typeof verdict === 'string' && Object.hasOwn(verdictExitCode, verdict) ? (verdict as Verdict) : null
}

export function recordSections(record: Pick<RecordDraft, 'result'>): string[] {
  const { sections, section } = record.result as { sections?: unknown; section?: unknown }
  if (Array.isArray(sections)) return sections.filter((each) => typeof each === 'string')
  return typeof section === 'string' ? [section] : []
}

/** One line about a record; `address` is its id, with `@chain` after it when imported from another archive. */
export function summarizeRecord(record: SealedRecord, address: string, chain: string | null): RecordSummary {
  return {
    id: address,
    sequence: record.sequence,
    kind: record.kind,
    sealed_at: record.sealed_at,
    subject: recordSubject(record),
    sections: recordSections(record),
    verdict: recordVerdict(record),
    operator: record.operator,
    corrects: record.corrects,
    retests: record.retests,
    chain,
  }
}

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
