import type { Variances } from '#analysis/fit/uncertainty-budget.ts'
import type {
  AllowanceFigures,
  Estimate,
  HoldCurves,
  Meaning,
  Reason,
  SectionLeak,
} from '#analysis/model/hold-result.ts'
import type { ShrinkingVariance } from './more-time.ts'

/** What a fit, of gas or of a liquid, tells of a section before it is judged. */
export interface FittedSection {
  readonly leak: SectionLeak
  readonly allowance: AllowanceFigures
  /** The estimate in the allowance's own unit, and the allowance in it. */
  readonly judged: Estimate
  readonly allowed: number
  readonly rawDropPa: number
  readonly reasons: readonly Reason[]
  readonly curves: HoldCurves
  readonly meaning: Meaning
  readonly variance: ShrinkingVariance
  /** Where the variance of the judged figure comes from; absent for liquids. */
  variances?(): Variances
}
