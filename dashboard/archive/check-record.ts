import type { HoldResult, Verdict } from '#analysis/model/hold-result.ts'
import { firstDifference, holdDifference, verdictFinding } from './compare-results.ts'
import { broken, type CheckedRecord, type Finding, holds, note, worstVerdict } from './finding.ts'
import { grouped } from './page/figure-words.ts'
import { type Recomputed, recomputeHold, systemOfRecord, type TakenBack } from './recompute-hold.ts'
import { type FindVerdict, hasSheet, recomputeWork } from './recompute-work.ts'
import type { SealedRecord } from './record.ts'
import { clockFaults, originWords, recordVerdict } from './record-words.ts'
import { recordSignatureHolds } from './seal-record.ts'
import { publicKeyFromBase64 } from './signing-key.ts'
import { sha256Hex } from './write-durably.ts'

/** Finds a stored file by its hash; null when it is not available. */
export type FindFile = (kind: 'recording' | 'photo', sha256: string) => Uint8Array | null

/** Context of a record's check. */
export interface RecordSurroundings {
  readonly programVersion: string
  /** Whether every file it names must be present, as in an archive: elsewhere a missing file voids its verdict. */
  readonly isWhole?: boolean
  readonly verdictOf?: FindVerdict
  /** The previous record in its chain, if available. */
  readonly before?: SealedRecord | null
  /** Marks withdrawn after it was sealed. */
  readonly takenBack?: TakenBack
  readonly recompute?: typeof recomputeHold
}

/** Checks one record alone: signature, hashes of all it names, and the verdict recomputed from the recording. */
export function checkRecord(
  record: SealedRecord,
  findFile: FindFile,
  {
    programVersion,
    isWhole = false,
    verdictOf = () => undefined,
    before = null,
    takenBack = new Map(),
    recompute = recomputeHold,
  }: RecordSurroundings,
): CheckedRecord {
  const findings: Finding[] = []
  const key = fingerprintWords(record.public_key)
  if (recordSignatureHolds(record)) findings.push(holds(`signature of the record, by key ${key}`))
  else
    findings.push(
      broken(`signature of the record does not hold for key ${key}: it was changed after sealing`),
    )
  if (sha256Hex(record.system.text) !== record.system.sha256) {
    findings.push(broken('system file in the record does not match its hash'))
  }
  const recording = checkRecording(record, findFile, isWhole, findings)
  checkPhotos(record, findFile, isWhole, findings)

  const origin = record.kind === 'hold' ? originWords(record) : null
  if (origin) findings.push((origin.isMeasured ? holds : note)(`readings: ${origin.text}`))
  const { system } = systemOfRecord(record)
  findings.push(...clockFaults(record.sealed_at, record.result, system, before).map(note))

  const sealed = recordVerdict(record)
  const versions = versionWords(record, programVersion)
  const bytesOf: FindFile = (kind, sha256) => unchanged(findFile(kind, sha256), sha256)
  const found =
    record.kind === 'hold'
      ? checkVerdict(record, recording && (() => recompute(record, recording, takenBack)), versions, findings)
      : checkWork(record, bytesOf, verdictOf, versions, isWhole, findings)
  const recomputed = found === 'none' ? null : found
  const isBroken = findings.some((finding) => finding.state === 'broken')
  const unproven: Verdict | null = found === null ? 'void' : null
  const verdict = worstVerdict([sealed, recomputed, unproven, isBroken ? 'void' : null])
  return { id: record.id, kind: record.kind, sealed, recomputed, verdict, findings }
}

/** Distinguishes a newer algorithm from a change. */
function versionWords({ program }: SealedRecord, programVersion: string): string {
  return program.version === programVersion
    ? `version ${programVersion}, which also sealed it,`
    : `version ${programVersion} (sealed by ${program.version})`
}

function unchanged(bytes: Uint8Array | null, sha256: string): Uint8Array | null {
  return bytes !== null && sha256Hex(bytes) === sha256 ? bytes : null
}

export function fingerprintWords(publicKey: string): string {
  try {
    return grouped(publicKeyFromBase64(publicKey).fingerprint, 4)
  } catch {
    return '(not a key)'
  }
}

function checkRecording(
  record: SealedRecord,
  findFile: FindFile,
  isWhole: boolean,
  findings: Finding[],
): Uint8Array | null {
  if (record.recording === null) {
    if (record.kind === 'hold') findings.push(broken('a hold without a recording proves nothing'))
    return null
  }
  const bytes = findFile('recording', record.recording.sha256)
  if (bytes === null) {
    const text = `recording ${record.recording.name} is not available: its verdict cannot be checked`
    findings.push(isWhole ? broken(text) : note(text))
    return null
  }
  if (sha256Hex(bytes) !== record.recording.sha256 || bytes.byteLength !== record.recording.bytes) {
    findings.push(
      broken(`recording ${record.recording.name} was changed: its bytes are not those that were sealed`),
    )
    return null
  }
  findings.push(holds(`recording ${record.recording.name}, ${bytes.byteLength} bytes as sealed`))
  return bytes
}

function checkPhotos(record: SealedRecord, findFile: FindFile, isWhole: boolean, findings: Finding[]): void {
  for (const photo of record.photos) {
    const bytes = findFile('photo', photo.sha256)
    if (bytes === null) {
      findings.push(
        isWhole ? broken(`photo ${photo.name} is missing`) : note(`photo ${photo.name} is not available`),
      )
    } else if (sha256Hex(bytes) !== photo.sha256) {
      findings.push(broken(`photo ${photo.name} was changed: its bytes are not those that were sealed`))
    } else findings.push(holds(`photo ${photo.name}, as sealed`))
  }
}

function checkVerdict(
  record: SealedRecord,
  recompute: (() => Recomputed) | null,
  by: string,
  findings: Finding[],
): Verdict | null {
  if (recompute === null) return null
  let recomputed: Recomputed
  try {
    recomputed = recompute()
  } catch (cause) {
    findings.push(broken(`verdict cannot be recomputed: ${(cause as Error).message}`))
    return null
  }
  if (recomputed.analysis === null) {
    findings.push(broken(`verdict cannot be recomputed: ${recomputed.why}`))
    return null
  }
  const sealed = record.result as HoldResult
  const { result } = recomputed.analysis
  const difference = holdDifference(sealed, result)
  findings.push(verdictFinding(sealed.verdict, result.verdict, difference, by, 'the recording'))
  const { corrected } = recomputed
  if (!corrected) return result.verdict
  findings.push(
    note(
      `re-analyze: a mark was corrected after sealing (${corrected.by.join(', ')}); without it the hold is ${corrected.verdict}`,
    ),
  )
  return worstVerdict([result.verdict, corrected.verdict])
}

/**
 * Recomputes the result of a wet, level, flow or work record, and compares every number.
 *
 * @returns the recomputed verdict; null when that failed, `none` when the record has no input for it
 */
function checkWork(
  record: SealedRecord,
  bytesOf: Parameters<typeof recomputeWork>[1],
  verdictOf: FindVerdict,
  versions: string,
  isWhole: boolean,
  findings: Finding[],
): Verdict | null | 'none' {
  if (!hasSheet(record)) {
    if (recordVerdict(record) !== null)
      findings.push(note('sealed without its sheet: its signature holds, but it cannot be recomputed'))
    return 'none'
  }
  const { result, why, isMissing } = recomputeWork(record, bytesOf, verdictOf)
  if (result === null) {
    const text = `verdict cannot be recomputed: ${why}`
    findings.push(isMissing && !isWhole ? note(text) : broken(text))
    return null
  }
  const { sheet: _, ...sealed } = record.result as Readonly<Record<string, unknown>>
  const before = recordVerdict(record)
  const now = recordVerdict({ result: result as Readonly<Record<string, unknown>> })
  // Values without a JSON form are sealed as JSON writes them.
  const difference = firstDifference(sealed, JSON.parse(JSON.stringify(result)))
  findings.push(verdictFinding(before, now, difference, versions, 'its sheet'))
  return now
}
