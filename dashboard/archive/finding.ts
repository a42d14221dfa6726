import { type Verdict, verdictExitCode, verdictsWorstFirst } from '#analysis/model/hold-result.ts'

/** Result of one check. `note` is neutral information, such as newer code that computes differently. */
export interface Finding {
  readonly state: 'holds' | 'broken' | 'note'
  readonly text: string
}

export interface CheckedRecord {
  readonly id: string
  readonly kind: string
  /** Sealed verdict; null for evidence without one. */
  readonly sealed: Verdict | null
  /** Verdict recomputed from the recording; null where that failed. */
  readonly recomputed: Verdict | null
  /** Verdict that counts: the worse of the two; void when any part of the evidence is broken. */
  readonly verdict: Verdict | null
  readonly findings: readonly Finding[]
}

/** Position of a record in its chain. */
export interface ChainLinkId {
  readonly key: string
  readonly sequence: number
  readonly sha256: string
  readonly id: string
}

export interface VerifyReport {
  readonly file: string
  readonly kind: 'report' | 'record' | 'archive'
  /** Findings on the file as a whole; those on each record are listed with it. */
  readonly findings: readonly Finding[]
  readonly records: readonly CheckedRecord[]
  /** Every record with the hash of its text, to compare several files. */
  readonly links: readonly ChainLinkId[]
  /** Contract sections 4 and 6: 13 when anything is broken, else the code of the worst verdict; without a verdict 12. */
  readonly exit_code: number
}

export const holds = (text: string): Finding => ({ state: 'holds', text })
export const broken = (text: string): Finding => ({ state: 'broken', text })
export const note = (text: string): Finding => ({ state: 'note', text })

const brokenExitCode = 13

/** Broken evidence outranks every verdict. */
export function worstExitCode(codes: readonly number[]): number {
  if (codes.includes(brokenExitCode)) return brokenExitCode
  return (
    verdictsWorstFirst.map((verdict) => verdictExitCode[verdict]).find((code) => codes.includes(code)) ?? 0
  )
}

export function verifyReport(report: Omit<VerifyReport, 'exit_code'>): VerifyReport {
  const all = [...report.findings, ...report.records.flatMap((record) => record.findings)]
  const codes = report.records.map(({ verdict }) => (verdict === null ? 0 : verdictExitCode[verdict]))
  if (report.records.length === 0) codes.push(verdictExitCode.void)
  if (all.some(({ state }) => state === 'broken')) codes.push(brokenExitCode)
  return { ...report, exit_code: worstExitCode(codes) }
}
