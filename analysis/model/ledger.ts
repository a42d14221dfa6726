import type { FittingKind } from './system.ts'

/** By the rules of docs/ledger.md. proven: a pass covered it and nothing has contradicted it since; stale: worked on since. */
export type ProofState = 'proven' | 'stale' | 'failed' | 'never-held'

/** One kind of proof of one fitting. */
export interface Proof {
  readonly state: ProofState
  /** Record that decides the state: the pass, or the fail; the lost proof when stale; null when never held. */
  readonly record: string | null
  /** Hold of that record. */
  readonly hold: string | null
  /** Start of the state, epoch nanoseconds; null when never held. */
  readonly since_ns: string | null
  /** One sentence. */
  readonly why: string
}

export interface LedgerFitting {
  readonly id: string
  readonly section: string
  readonly name: string
  readonly kind: FittingKind
  /** Part of the test rig: tracked like the others, but not part of the aircraft, so neither counted nor open. */
  readonly rig?: true
  /** The dry proof: gas holds and liquid holds. */
  readonly proof: Proof
  /** The wet proof: soaked with fuel and inspected; null if no wet stage was ever recorded. */
  readonly wet: Proof | null
  /** Last work on it or on a joint opened with it. */
  readonly last_work: { readonly time_ns: string; readonly on: string; readonly action: string } | null
}

/** A plug or cap installed for a hold and not yet marked as removed. */
export interface PlugIn {
  readonly id: string
  readonly since_ns: string
  readonly record: string | null
}

/** A hold still to be made. */
export interface LedgerHold {
  /** Hold of the system file; null for an isolation that the file does not name. */
  readonly hold: string | null
  readonly sections: readonly string[]
  readonly shut: readonly string[]
  /** Open fittings that a pass would prove. */
  readonly proves: readonly string[]
  readonly minutes: number
}

/** Result of `ledger`: the state of proof of one system. */
export interface Ledger {
  readonly stillhold: 1
  readonly system: string
  /** True when every fitting is proven and every plug is out. */
  readonly complete: boolean
  /** One sentence: the state of the whole. */
  readonly message: string
  readonly counts: Readonly<Record<ProofState, number>>
  readonly fittings: readonly LedgerFitting[]
  /** Missing steps to complete proof, a sentence each. */
  readonly open: readonly string[]
  /** Invalid evidence: work marked on an id that is not in the system. */
  readonly errors: readonly string[]
  /** Holds that close it in the least time, and whether that minimum is certain. */
  readonly holds_to_do: readonly LedgerHold[]
  readonly holds_to_do_exact: boolean
  /** Fittings that no possible hold covers, with the reason. */
  readonly uncoverable: readonly { readonly id: string; readonly why: string }[]
  readonly plugs_in: readonly PlugIn[]
  readonly cautions: readonly string[]
}
