import * as v from 'valibot'
import { originKinds } from '#analysis/model/origin.ts'
import { canonicalText } from './canonical-text.ts'
import type { SealedRecord } from './record.ts'

const sha256 = v.pipe(v.string(), v.regex(/^[0-9a-f]{64}$/, 'must be 64 hex digits'))
const text = v.string()
const orNull = <S extends v.GenericSchema>(schema: S) => v.nullable(schema)
const kept = v.strictObject({ name: text, sha256, bytes: v.pipe(v.number(), v.integer(), v.minValue(0)) })

const kinds = ['hold', 'wet', 'level', 'flow', 'work', 'plug', 'correction'] as const

const version1 = {
  stillhold_record: v.literal(1),
  id: v.pipe(
    v.string(),
    v.regex(/^\d{4,}-[a-z0-9-]+$/, 'must be a number and a name such as 0001-left-feed'),
  ),
  sequence: v.pipe(v.number(), v.integer(), v.minValue(1)),
  kind: v.picklist(kinds),
  previous_sha256: orNull(sha256),
  sealed_at: v.pipe(v.string(), v.isoTimestamp()),
  program: v.strictObject({ name: v.literal('stillhold'), version: text }),
  recording: orNull(kept),
  system: v.strictObject({ name: text, sha256, text }),
  result: v.record(v.string(), v.unknown()),
  operator: orNull(text),
  witness: orNull(text),
  photos: v.array(kept),
  note: orNull(text),
  corrects: orNull(text),
  retests: orNull(text),
  public_key: text,
  signature: text,
}

const origin = v.strictObject({
  channel: text,
  kind: v.picklist(originKinds),
  name: orNull(text),
  sha256: orNull(sha256),
})

const schemas = {
  1: v.strictObject(version1),
  2: v.strictObject({
    ...version1,
    stillhold_record: v.literal(2),
    kind: v.picklist([...kinds, 'look', 'acceptance']),
    origins: orNull(v.array(origin)),
  }),
} as const

export type ReadRecord =
  | { readonly record: SealedRecord; readonly error: null }
  | { readonly record: null; readonly error: string }

/**
 * Reads the text of a record file. Only the canonical form is accepted: the file's bytes are hashed and
 * signed, so another spelling of the same content is a change.
 */
export function readRecord(recordText: string): ReadRecord {
  let json: unknown
  try {
    json = JSON.parse(recordText)
  } catch (cause) {
    return { record: null, error: `not JSON: ${(cause as Error).message}` }
  }
  const version =
    typeof json === 'object' && json !== null && 'stillhold_record' in json ? json.stillhold_record : 1
  if (version !== 1 && version !== 2)
    return {
      record: null,
      error: `record format ${String(version).slice(0, 20)} is newer than this program; update it`,
    }
  const parsed = v.safeParse<v.GenericSchema>(schemas[version], json)
  if (!parsed.success) {
    const issue = parsed.issues[0]
    return { record: null, error: `${v.getDotPath(issue) ?? 'record'}: ${issue.message}` }
  }
  const record = json as SealedRecord
  let canonical: string
  try {
    canonical = canonicalText(record)
  } catch (cause) {
    return { record: null, error: (cause as Error).message }
  }
  if (canonical !== recordText)
    return { record: null, error: 'not in canonical form: its bytes were changed' }
  return { record, error: null }
}
