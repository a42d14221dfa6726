import type { HoldResult } from './hold-result.ts'
import type { Mark } from './samples.ts'
import type { System } from './system.ts'

/** One hold as evidence about fittings, whether just analyzed or taken from the archive. */
export interface HoldEvidence {
  readonly kind: 'hold'
  /** Id in the archive; null for a hold that is not sealed. */
  readonly record: string | null
  readonly result: HoldResult
  /** The system as its file described it at the time of the hold. */
  readonly system: System
  /** Id of the record that this one corrects or retests. */
  readonly corrects: string | null
  readonly retests: string | null
  /** Why it does not prove anything until a person accepts it, as a replay; absent or null where nothing speaks against it. */
  readonly doubt?: string | null
  /** Who accepted it although something speaks against it, and why: shown wherever it counts. */
  readonly accepted?: string
  /** Records that took back a mark of it after it was sealed: its result is the one without that mark. */
  readonly correctedBy?: readonly string[]
}

/** Work, look, valve and plug marks, from a recording or from records of their own. */
export interface MarkEvidence {
  readonly kind: 'mark'
  readonly record: string | null
  readonly mark: Mark
}

/** A passed wet stage: fuel stood in these sections and every named fitting was looked at. */
export interface WetEvidence {
  readonly kind: 'wet'
  readonly record: string
  /** End of the stage, epoch nanoseconds as decimal text. */
  readonly timeNs: string
  readonly passed: boolean
  readonly fittings: readonly string[]
}

/** What hunt and ledger reason from; any order, they sort by time. The same mark may come twice. */
export type Evidence = HoldEvidence | MarkEvidence | WetEvidence
