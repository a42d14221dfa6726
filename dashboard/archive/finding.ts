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

/** Where a record stands in its chain. */
export interface ChainLinkId {
  readonly key: string
  readonly sequence: number
  readonly sha256: string
  readonly id: string
}

export interface VerifyReport {
  readonly file: string
  readonly kind: 'report' | 'record' | 'archive'
  /** Of the file as a whole; those of each record stand with it. */
  readonly findings: readonly Finding[]
  readonly records: readonly CheckedRecord[]
  /** Every record with the hash of its text, to compare several files with each other. */
  readonly links: readonly ChainLinkId[]
  /** Contract sections 4 and 6: 13 when anything is broken, else the code of the worst verdict; nothing to judge is 12. */
  readonly exit_code: number
}

export const holds = (text: string): Finding => ({ state: 'holds', text })
export const broken = (text: string): Finding => ({ state: 'broken', text })
export const note = (text: string): Finding => ({ state: 'note', text })

export function worstVerdict(verdicts: readonly (Verdict | null)[]): Verdict | null {
  return verdictsWorstFirst.find((verdict) => verdicts.includes(verdict)) ?? null
}

const brokenExitCode = 13

/** Broken evidence outranks every verdict. */
export function worstExitCode(codes: readonly number[]): number {
  if (codes.includes(brokenExitCode)) return brokenExitCode
  return (
    verdictsWorstFirst.map((verdict) => verdictExitCode[verdict]).find((code) => codes.includes(code)) ?? 0
  )
}

/** Puts a report together. */
export function verifyReport(report: Omit<VerifyReport, 'exit_code'>): VerifyReport {
  const all = [...report.findings, ...report.records.flatMap((record) => record.findings)]
  const codes = report.records.map(({ verdict }) => (verdict === null ? 0 : verdictExitCode[verdict]))
  if (report.records.length === 0) codes.push(verdictExitCode.void)
  if (all.some(({ state }) => state === 'broken')) codes.push(brokenExitCode)
  return { ...report, exit_code: worstExitCode(codes) }
}
