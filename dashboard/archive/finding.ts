import { type Verdict, verdictExitCode, verdictsWorstFirst } from '#analysis/model/hold-result.ts'

/** One thing that was checked. `note` is neither: something to know, such as newer code that computes differently. */
export interface Finding {
  readonly state: 'holds' | 'broken' | 'note'
  readonly text: string
}

/** A record that was checked. */
export interface CheckedRecord {
  readonly id: string
  readonly kind: string
  /** Verdict as sealed; null for evidence without one. */
  readonly sealed: Verdict | null
  /** Verdict recomputed from the recording; null where that was not possible. */
  readonly recomputed: Verdict | null
  /** What the evidence is good for now: the worse of the two; void when anything about it is broken. */
  readonly verdict: Verdict | null
  readonly findings: readonly Finding[]
}

export interface VerifyReport {
  readonly file: string
  readonly kind: 'certificate' | 'record' | 'archive'
  /** Of the file as a whole; those of each record stand with it. */
  readonly findings: readonly Finding[]
  readonly records: readonly CheckedRecord[]
  /** Contract section 4: 0, 10, 11 or 12. Anything broken counts as void, so it is never 0. */
  readonly exit_code: number
}

export const holds = (text: string): Finding => ({ state: 'holds', text })
export const broken = (text: string): Finding => ({ state: 'broken', text })
export const note = (text: string): Finding => ({ state: 'note', text })

export function worstVerdict(verdicts: readonly (Verdict | null)[]): Verdict | null {
  return verdictsWorstFirst.find((verdict) => verdicts.includes(verdict)) ?? null
}

/** Puts a report together; whatever is broken makes it void at best. */
export function verifyReport(
  file: string,
  kind: VerifyReport['kind'],
  findings: readonly Finding[],
  records: readonly CheckedRecord[],
): VerifyReport {
  const isBroken = [...findings, ...records.flatMap((record) => record.findings)].some(
    (finding) => finding.state === 'broken',
  )
  const worst = worstVerdict([...records.map((record) => record.verdict), isBroken ? 'void' : null])
  return { file, kind, findings, records, exit_code: worst === null ? 0 : verdictExitCode[worst] }
}
