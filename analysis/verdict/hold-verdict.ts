import { type Estimate, type Reason, type Verdict, verdictsWorstFirst } from '#analysis/model/hold-result.ts'

/**
 * The guard-band rule: pass only if the whole interval lies under the allowance, fail only if it lies over it.
 *
 * *Source* JCGM 106:2012 / ISO 14253-1, in outline.
 */
export function guardBanded(judged: Estimate, allowed: number): 'pass' | 'fail' | 'undecided' {
  if (judged.high < allowed) return 'pass'
  if (judged.low > allowed) return 'fail'
  return 'undecided'
}

/** The verdict of a hold: void where the whole of it proves nothing, else the worst of its sections. */
export function overallVerdict(parts: readonly Verdict[], voids: readonly Reason[]): Verdict {
  if (voids.length > 0) return 'void'
  return verdictsWorstFirst.find((verdict) => parts.includes(verdict)) ?? 'void'
}
