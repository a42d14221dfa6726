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
  /** False without evidence from a hold: its probability is that of its kind. */
  readonly held: boolean
  /** Repair of a weeping fitting, by common practice; never under pressure. */
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
  /** `work` includes blanking off and cleaning. */
  readonly kind: 'hold' | 'look' | 'work'
  /** One line in the imperative: what to do. */
  readonly title: string
  /** Hold of the system file for this step or look; null for an isolation the file does not name. */
  readonly hold: string | null
  /** Pressurised sections. */
  readonly sections: readonly string[]
  /** Valves to shut. */
  readonly shut: readonly string[]
  /** Fittings that the step tests; for a look in the order that finds the leak soonest. */
  readonly fittings: readonly string[]
  /** Places to look at in that order: fittings, and sections for their hoses, seams and walls. Empty for other steps. */
  readonly places: readonly string[]
  /** Expected information about which fittings leak, [bit]. */
  readonly bits: number
  /** Full duration, if nothing is found sooner. */
  readonly minutes: number
  /** Expected time until a leak is found, if the search begins with this step. */
  readonly minutes_to_find: number
  readonly bits_per_minute: number
  /** One sentence. */
  readonly why: string
}

/** Result of `hunt`: which fittings may leak, how likely, and the next step. */
export interface HuntResult {
  readonly stillhold: 1
  readonly system: string
  /** Time at which the evidence was read from the archive, ISO; absent for evidence from files. */
  readonly taken_at?: string
  /** One sentence: the finding. */
  readonly message: string
  /** Number of sets of simultaneous leaks evaluated, and number of leaks in the largest. */
  readonly sets: number
  readonly largest_set: number
  /** Estimated probability of larger sets; 0 when every set was evaluated. */
  readonly beyond: number
  /** Gauge pressure at which leaks are stated, [Pa]. */
  readonly reference_Pa: number
  /** Reference of scc, as every output prints it. */
  readonly scc_reference: string
  /** Probability that at least one held fitting leaks; of all fittings if none was held. */
  readonly any_leak: number
  /** Held fittings before others; in each group, most likely first. */
  readonly fittings: readonly HuntFitting[]
  readonly valves: readonly HuntValve[]
  /** Probability that a section leaks to the outside, at any joint; in the order of the file. */
  readonly sections: readonly { readonly section: string; readonly leaking: number }[]
  /** Sections that may leak elsewhere than at a fitting of the file: a seam, a wall, the rig's own hose. */
  readonly elsewhere: readonly {
    readonly section: string
    readonly leaking: number
    readonly scc_per_min: Estimate | null
  }[]
  /** Fastest search first; without a leak to find, most bits a minute. Never empty with one to find. */
  readonly next: readonly NextStep[]
  readonly used: readonly { readonly what: string; readonly record: string | null }[]
  readonly ignored: readonly { readonly what: string; readonly why: string }[]
  readonly cautions: readonly string[]
  /** Source of the rates of the kinds; absent: our own figures. */
  readonly priors_source?: string
}
