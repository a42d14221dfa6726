import type { BudgetShare } from './hold-result.ts'

/** One sentence of advice with its source. */
export interface PlanAdvice {
  readonly topic: string
  readonly message: string
  /** Standard, rule or practice behind it; null for our own. */
  readonly source: string | null
}

/** Result of `plan`: what a hold can decide, before pump-up. SI units, named in the key. */
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
  /** Smallest leak that the stated hold detects four times in five, as a drop in it. */
  readonly smallest_drop_Pa: number
  readonly smallest_scc_per_min: number | null
  readonly smallest_mL_per_min: number | null
  /** Shortest hold that decides the allowance; null when none of up to eight stated times does. */
  readonly needed_seconds: number | null
  /** Settle time after which the effect of pumping heat is below a tenth of the allowance. */
  readonly needed_settle_seconds: number
  /** Largest steady temperature drift at which the stated hold still decides. */
  readonly largest_drift_K_per_h: number
  /** What will make the interval wide, largest first; null when there will be none. */
  readonly budget: readonly BudgetShare[] | null
  /** Published waits and rules. */
  readonly waits: readonly PlanAdvice[]
  readonly cautions: readonly PlanAdvice[]
}
