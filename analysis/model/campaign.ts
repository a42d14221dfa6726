/** One set-up of a campaign, or the removal of plugs at its end. */
export interface CampaignStep {
  readonly kind: 'rig' | 'hold' | 'plugs-out'
  /** One line in the imperative. */
  readonly title: string
  /** Hold of the system file; null for an isolation that the file does not name, and for plugs. */
  readonly hold: string | null
  readonly sections: readonly string[]
  /** Valves to shut, and inner valves that stay open. */
  readonly shut: readonly string[]
  readonly open: readonly string[]
  /** Plugs and caps to put in for it, or to take out. */
  readonly plugs: readonly string[]
  /** Gauges for it, each with its section; `move` if it is on another section before. */
  readonly gauges: readonly { readonly channel: string; readonly section: string; readonly move: boolean }[]
  /** Gauge pressure, [Pa], settle and hold; null where the file does not state them. */
  readonly pressure_Pa: number | null
  readonly settle_seconds: number | null
  readonly hold_seconds: number | null
  readonly minutes: number
  readonly proves: readonly string[]
  /** Failed fittings, to be found and repaired before this step. */
  readonly repair_first: readonly string[]
  readonly cautions: readonly string[]
}

/** Result of `campaign`: the fastest set-ups to close the ledger, from the current state of proof. */
export interface Campaign {
  readonly stillhold: 1
  readonly system: string
  /** True when every fitting is proven and every plug is out. */
  readonly complete: boolean
  /** One sentence. */
  readonly message: string
  readonly proven: number
  readonly total: number
  /** Records that prove fittings now, oldest first. */
  readonly done: readonly {
    readonly record: string
    readonly hold: string | null
    readonly proves: readonly string[]
  }[]
  readonly steps: readonly CampaignStep[]
  readonly minutes: number
  /** Whether no sequence takes less time. */
  readonly bound_minutes: number
  readonly exact: boolean
  /** Plugs and caps currently installed. */
  readonly plugs_in: readonly string[]
  readonly uncoverable: readonly { readonly id: string; readonly why: string }[]
}
