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
  /** Why it proves nothing until a person accepts it, such as a replay; absent or null without an objection. */
  readonly doubt?: string | null
  /** Who accepted it despite an objection, and why: shown wherever it counts. */
  readonly accepted?: string
  /** Records that withdrew one of its marks after sealing: its result excludes that mark. */
  readonly correctedBy?: readonly string[]
}

/** Work, look, valve and plug marks, from a recording or from records of their own. */
export interface MarkEvidence {
  readonly kind: 'mark'
  readonly record: string | null
  readonly mark: Mark
}

/** A passed wet stage: fuel filled these sections and every named fitting was inspected. */
export interface WetEvidence {
  readonly kind: 'wet'
  readonly record: string
  /** End of the stage, epoch nanoseconds as decimal text. */
  readonly timeNs: string
  readonly passed: boolean
  readonly fittings: readonly string[]
}

/** Input of hunt and ledger, in any order; they sort by time. Marks may be duplicated. */
export type Evidence = HoldEvidence | MarkEvidence | WetEvidence
