import type { Estimate } from './hold-result.ts'
import type { FittingKind } from './system.ts'

export interface HuntFitting {
  readonly id: string
  readonly section: string
  readonly name: string
  readonly kind: FittingKind
  /** Probability that it leaks now, 0 to 1. */
  readonly leaking: number
  /** Leak if it leaks, at `reference_Pa`, 95 % interval; null where its probability is under 1 %. */
  readonly mol_per_s: Estimate | null
  readonly scc_per_min: Estimate | null
  /** False when no hold has told anything about it yet: its probability is that of its kind. */
  readonly held: boolean
  /** What to do when it weeps, in the trade's way; never under pressure. */
  readonly advice: string
}

/** A shut valve that may let gas through. */
export interface HuntValve {
  readonly id: string
  readonly name: string
  readonly between: readonly string[]
  readonly passing: number
  readonly mol_per_s: Estimate | null
  readonly scc_per_min: Estimate | null
}

export interface NextStep {
  /** `work` covers blanking off and cleaning as well. */
  readonly kind: 'hold' | 'look' | 'work'
  /** One line in the imperative: what to do. */
  readonly title: string
  /** Hold of the system file that does it, or under which to look; null for an isolation the file does not name. */
  readonly hold: string | null
  /** What is pressurised. */
  readonly sections: readonly string[]
  /** Valves to shut. */
  readonly shut: readonly string[]
  /** Fittings that the step tells about; of a look in the order that finds the leak soonest. */
  readonly fittings: readonly string[]
  /** Expected information about which fittings leak, [bit]. */
  readonly bits: number
  /** All of it, where nothing is found sooner. */
  readonly minutes: number
  /** Expected until a leak is found, if the search begins with this step. */
  readonly minutes_to_find: number
  readonly bits_per_minute: number
  /** One sentence. */
  readonly why: string
}

/** Answer of `hunt`: which fittings may leak, how likely, and what to do next. */
export interface HuntResult {
  readonly stillhold: 1
  readonly system: string
  /** When the evidence was taken from the archive, ISO; absent where it came from files. */
  readonly taken_at?: string
  /** One sentence: the finding. */
  readonly message: string
  /** Sets of simultaneous leaks that were counted, and how many leaks the largest has. */
  readonly sets: number
  readonly largest_set: number
  /** Probability of still larger sets, estimated; 0 when every set was counted. */
  readonly beyond: number
  /** Gauge pressure at which leaks are stated, [Pa]. */
  readonly reference_Pa: number
  /** Reference of scc, as every output prints it. */
  readonly scc_reference: string
  /** Probability that at least one fitting that was held leaks; of all fittings while none was. */
  readonly any_leak: number
  /** Those that were held before those that were not; in each, most likely first. */
  readonly fittings: readonly HuntFitting[]
  readonly valves: readonly HuntValve[]
  /** Probability that a section leaks to the outside, at whichever joint; in the order of the file. */
  readonly sections: readonly { readonly section: string; readonly leaking: number }[]
  /** Sections that may leak elsewhere than at a fitting of the file: a seam, a wall, the rig's own hose. */
  readonly elsewhere: readonly {
    readonly section: string
    readonly leaking: number
    readonly scc_per_min: Estimate | null
  }[]
  /** The most likely answers to 'which leak together', most likely first, at most five. */
  readonly together: readonly { readonly ids: readonly string[]; readonly probability: number }[]
  /** The way that finds the leak soonest first; where no leak is sought, most bits a minute. Never empty while one is. */
  readonly next: readonly NextStep[]
  readonly used: readonly { readonly what: string; readonly record: string | null }[]
  readonly ignored: readonly { readonly what: string; readonly why: string }[]
  readonly cautions: readonly string[]
  /** Where the rates of the kinds come from; absent: our own figures. */
  readonly priors_source?: string
}
