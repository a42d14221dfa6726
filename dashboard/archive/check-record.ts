import { type HoldResult, type Verdict, worstVerdict } from '#analysis/model/hold-result.ts'
import { firstDifference, holdDifference, verdictFinding } from './compare-results.ts'
import { broken, type CheckedRecord, type Finding, holds, note } from './finding.ts'
import { checkSeal, type FindFile, type SealCheck } from './read-chain.ts'
import { type Recomputed, recomputeHold, systemOfRecord, type TakenBack } from './recompute-hold.ts'
import { type FindVerdict, hasSheet, recomputeWork } from './recompute-work.ts'
import type { SealedRecord } from './record.ts'
import { clockFaults, originWords, recordVerdict } from './record-words.ts'
import { sha256Hex } from './write-durably.ts'

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
  /** Its check of the same files, where that was made before. */
  readonly seal?: SealCheck
}

/** Checks one record alone: its seal, and the verdict recomputed from the recording. */
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
    seal = checkSeal(record, findFile, isWhole),
  }: RecordSurroundings,
): CheckedRecord {
  const { recording } = seal
  const findings = [...seal.findings]
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
