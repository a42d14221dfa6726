/** One sentence of advice with where it comes from. */
export interface PlanAdvice {
  readonly topic: string
  readonly message: string
  /** Standard, rule or practice it rests on; null for our own. */
  readonly source: string | null
}

/** Answer of `plan`: what a hold can decide, before anything is pumped up. SI units, named in the key. */
export interface Plan {
  readonly stillhold: 1
  readonly hold: string
  /** One sentence: can the stated hold decide the allowance. */
  readonly message: string
  readonly decides: boolean
  readonly hold_seconds: number
  readonly settle_seconds: number
  /** Allowed drop over the stated hold time, [Pa]. */
  readonly allowed_drop_Pa: number
  /** Smallest leak that the stated hold tells from none, four times in five, as a drop in it. */
  readonly smallest_drop_Pa: number
  readonly smallest_scc_per_min: number | null
  readonly smallest_mL_per_min: number | null
  /** Shortest hold that decides the allowance; null when none of up to eight stated times does. */
  readonly needed_seconds: number | null
  /** Settle after which the heat of pumping is worth less than a tenth of the allowance. */
  readonly needed_settle_seconds: number
  /** Steady drift of the temperature up to which the stated hold still decides. */
  readonly largest_drift_K_per_h: number
  /** Standard errors of the drop in the stated hold, by cause. */
  readonly noise_drop_Pa: number
  readonly temperature_drop_Pa: number
  readonly weather_drop_Pa: number
  /** Published waits and rules. */
  readonly waits: readonly PlanAdvice[]
  readonly cautions: readonly PlanAdvice[]
}
