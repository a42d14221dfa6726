import { existsSync, readFileSync } from 'node:fs'
import { join } from 'node:path'
import * as v from 'valibot'
import type { ArchiveFolder } from './archive-folder.ts'
import { canonicalText } from './canonical-text.ts'
import { broken, type Finding, holds, note } from './finding.ts'
import type { SealedRecord } from './record.ts'
import { type SigningKey, signatureHolds } from './signing-key.ts'
import { writeFileDurably } from './write-durably.ts'

export const headFile = 'head.json'

const schema = v.strictObject({
  stillhold_head: v.literal(1),
  count: v.pipe(v.number(), v.integer(), v.minValue(0)),
  last_sha256: v.nullable(v.pipe(v.string(), v.regex(/^[0-9a-f]{64}$/))),
  time: v.pipe(v.string(), v.isoTimestamp()),
  public_key: v.string(),
  signature: v.string(),
})

/** The signed end of a chain: its record count and the hash of the last record, so that truncation is detected. */
export type ChainHead = Readonly<v.InferOutput<typeof schema>>

/** The chain that a head is compared with. */
export interface ChainRecord {
  readonly sha256: string
  readonly record: SealedRecord | null
}

/** Signed text of the head of a chain of `count` records. */
export function signHead(count: number, lastSha256: string | null, time: Date, key: SigningKey): string {
  const unsigned = {
    stillhold_head: 1,
    count,
    last_sha256: lastSha256,
    time: time.toISOString(),
    public_key: key.public.base64,
  }
  return canonicalText({ ...unsigned, signature: key.sign(canonicalText(unsigned)) })
}

export function writeHead(paths: ArchiveFolder, chain: string, text: string): void {
  writeFileDurably(join(paths.chainFolder(chain), headFile), text)
}

/** Text of the head file of a chain; null when there is none. */
export function headText(paths: ArchiveFolder, chain: string): string | null {
  const path = join(paths.chainFolder(chain), headFile)
  return existsSync(path) ? readFileSync(path, 'utf8') : null
}

/** The head parsed from a text, with a valid signature; null otherwise. */
export function readHead(text: string): ChainHead | null {
  try {
    const parsed = v.safeParse(schema, JSON.parse(text))
    if (!parsed.success || canonicalText(parsed.output) !== text) return null
    const { signature, ...unsigned } = parsed.output
    return signatureHolds(unsigned.public_key, canonicalText(unsigned), signature) ? parsed.output : null
  } catch {
    return null
  }
}

/** Comparison of a chain with its head. `lags`: the program was stopped between the last record and its head. */
export type HeadState = 'fits' | 'lags' | 'never-signed' | { readonly broken: string }

/** @param publicKey the key of the chain, base64; null when it has no readable record */
export function headState(
  text: string | null,
  records: readonly ChainRecord[],
  publicKey: string | null,
): HeadState {
  if (text === null) {
    // Version 0.1 signed no heads; a chain with a record of a later version must have one.
    const mustHave = records.some(({ record }) => record === null || record.stillhold_record > 1)
    return mustHave ? { broken: `its signed count, ${headFile}, is missing` } : 'never-signed'
  }
  const head = readHead(text)
  if (head === null) return { broken: `its signed count, ${headFile}, was changed` }
  if (publicKey !== null && head.public_key !== publicKey)
    return { broken: `its count, ${headFile}, is signed with another key than its records` }
  const missing = head.count - records.length
  if (missing > 0)
    return { broken: `${missing} of ${head.count} records are missing: its count was signed ${head.time}` }
  if (missing < -1)
    return { broken: `its signed count of ${head.time} is ${head.count}: an older copy was restored` }
  const last = records[head.count - 1]?.sha256 ?? null
  if (last !== head.last_sha256)
    return { broken: `record ${head.count} is not the one whose hash was signed as the last` }
  return missing === 0 ? 'fits' : 'lags'
}

/** The head of a chain as a finding of `verify`. */
export function headFinding(name: string, state: HeadState, text: string | null): Finding {
  if (typeof state === 'object') return broken(`${name}: ${state.broken}`)
  if (state === 'never-signed')
    return note(
      `${name}: sealed by version 0.1, which signed no count: missing last records cannot be detected`,
    )
  if (state === 'lags')
    return note(`${name}: the program was stopped before it counted the last record; open the archive once`)
  const head = readHead(text ?? '')
  return holds(`${name}: complete, ${head?.count} counted and signed ${head?.time}`)
}
