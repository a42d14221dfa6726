import type { Estimate } from '#analysis/model/hold-result.ts'

/** Where the interval of one section's leak lies; an interval that is not yet bounded lies on neither side. */
export function sideOf(
  { low, high }: Estimate,
  allowance: number,
): { readonly state: 'pass' | 'fail' | 'undecided'; readonly word: string } {
  // Over the wire an infinite bound is null, and null compares like 0.
  if (typeof high === 'number' && Number.isFinite(high) && high < allowance)
    return { state: 'pass', word: 'below the allowance' }
  if (typeof low === 'number' && Number.isFinite(low) && low > allowance)
    return { state: 'fail', word: 'above the allowance' }
  return { state: 'undecided', word: 'cannot tell yet' }
}
