import { type HoldResult, type Verdict, verdictExitCode } from '#analysis/model/hold-result.ts'
import type { ChannelOrigin, OriginKind } from '#analysis/model/origin.ts'
import type { Mark } from '#analysis/model/samples.ts'
import type { System } from '#analysis/model/system.ts'
import { utcMinute } from './page/figure-words.ts'
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

/** Tolerance for differences between clocks, [ms]. */
const sameMs = 60_000

/**
 * Signs of a wrong clock when a record was sealed, a sentence each: the previous record was sealed later, the
 * hold ended later, or an instrument in the system file was calibrated later.
 */
export function clockFaults(
  sealedAt: string,
  result: RecordDraft['result'],
  system: System | null,
  before: { readonly id: string; readonly sealed_at: string } | null,
): string[] {
  const sealedMs = Date.parse(sealedAt)
  const faults: string[] = []
  const late = (what: string, laterMs: number) => {
    if (laterMs - sealedMs > sameMs)
      faults.push(
        `sealed ${utcMinute(sealedAt)}, but ${what} ${utcMinute(new Date(laterMs).toISOString())}: the clock was wrong`,
      )
  }
  if (before !== null) late(`${before.id}, the previous record,`, Date.parse(before.sealed_at))
  const stages: unknown = (result as Partial<HoldResult>).stages ?? {}
  const ends = Object.values(stages as object).filter(
    (ns) => typeof ns === 'string' && /^\d{10,19}$/.test(ns),
  )
  if (ends.length > 0) late('its hold is of', Math.max(...ends.map((ns) => Number(BigInt(ns) / 1_000_000n))))
  const calibrated = (system?.channels ?? []).flatMap(
    ({ calibration }) => Date.parse(calibration?.date ?? '') || [],
  )
  if (calibrated.length > 0) late('an instrument was calibrated', Math.max(...calibrated) - 86_400_000)
  return faults
}

const words: Readonly<Record<OriginKind, string>> = {
  serial: 'serial port',
  tcp: 'network, TCP',
  http: 'network, HTTP',
  mqtt: 'network, MQTT',
  replay: 'REPLAYED from a recording',
  import: 'IMPORTED from a file',
  typed: 'typed by hand',
  demo: 'SIMULATED by the demo: no aircraft was tested',
}

/** Kinds that a bench measures itself. */
const measured: readonly OriginKind[] = ['serial', 'tcp', 'http', 'mqtt']

export interface OriginWords {
  readonly text: string
  /** Whether the readings came from a bench. */
  readonly isMeasured: boolean
}

/** Source of a record's readings; null for evidence without readings. */
export function originWords({ stillhold_record, recording, origins }: SealedRecord): OriginWords | null {
  if (stillhold_record === 1)
    return recording && { text: 'not recorded, as in every record of version 0.1', isMeasured: false }
  if (!origins?.length) return recording && { text: 'not known', isMeasured: false }
  const groups = new Map<string, string[]>()
  for (const origin of origins) {
    const place = placeWords(origin)
    groups.set(place, [...(groups.get(place) ?? []), origin.channel])
  }
  const text = [...groups].map(([place, channels]) => `${place} (${channels.join(', ')})`).join('; ')
  return { text, isMeasured: origins.every(({ kind }) => measured.includes(kind)) }
}

function placeWords({ kind, name, sha256 }: ChannelOrigin): string {
  const hash = sha256 === null ? '' : `, SHA-256 ${sha256.slice(0, 16)}…`
  return `${words[kind]}${name === null ? '' : ` ${name}`}${hash}`
}

/** Prefix of the controller's note on the checks before the pump-up. */
export const sheetPrefix = 'checked: '

/** Short words for faults on the chart; the recording has the full text. */
const faultWords: Readonly<Record<string, string>> = {
  unplugged: 'logger unplugged',
  silent: 'logger silent',
  'open-failed': 'logger gone',
  'logger-reset': 'logger restarted',
  interrupted: 'broken off',
  'pressure-lost': 'pressure lost',
}

/** A short label of a mark. */
export function textOf({ kind, fields }: Mark): string {
  const { name, text, finding, action, open, code, seconds } = fields
  if (kind === 'fault' && typeof code === 'string') return faultWords[code] ?? code.replaceAll('-', ' ')
  if (kind === 'gap' && typeof seconds === 'number')
    return `nothing for ${seconds < 10 ? seconds.toFixed(1) : Math.round(seconds)} s`
  if (kind === 'clock') return 'clock wrong'
  if (kind === 'note' && typeof text === 'string' && text.startsWith(sheetPrefix)) return 'state sheet'
  if (typeof text === 'string') return text
  if (kind === 'place') return `on ${fields.section}`
  if (kind === 'supply') return name === 'off' ? 'supply off' : `supply ${name}`
  if (typeof name === 'string') return name
  if (typeof finding === 'string') return finding
  if (typeof action === 'string')
    return typeof fields.torque_Nm === 'number' ? `${action}, ${fields.torque_Nm} N·m` : action
  if ((kind === 'valve' || kind === 'check') && typeof open === 'boolean') return open ? 'opened' : 'shut'
  return Object.entries(fields)
    .map(([key, value]) => `${key} ${value}`)
    .join(', ')
}
