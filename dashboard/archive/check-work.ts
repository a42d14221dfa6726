import type { Verdict } from '#analysis/model/hold-result.ts'
import { firstDifference, verdictFinding } from './compare-results.ts'
import { broken, type Finding, note } from './finding.ts'
import { type FindVerdict, hasSheet, recomputeWork } from './recompute-work.ts'
import type { SealedRecord } from './record.ts'
import { recordVerdict } from './record-summary.ts'

/**
 * Recomputes the result of a wet, level, flow or work record, and compares every number.
 *
 * @returns the recomputed verdict; null when that failed, `none` when the record has no input for it
 */
export function checkWork(
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
