import type { Estimate } from '#analysis/model/hold-result.ts'
import { t } from '#analysis/reasons/language.ts'

/** The side of the allowance that the leak interval of one section is on; an unbounded interval is on neither. */
export function sideOf(
  { low, high }: Estimate,
  allowance: number,
): { readonly state: 'pass' | 'fail' | 'undecided'; readonly word: string } {
  // An infinite bound arrives as null in JSON, and null compares like 0.
  if (typeof high === 'number' && Number.isFinite(high) && high < allowance)
    return { state: 'pass', word: t`below the allowance` }
  if (typeof low === 'number' && Number.isFinite(low) && low > allowance)
    return { state: 'fail', word: t`above the allowance` }
  return { state: 'undecided', word: t`cannot tell yet` }
}
