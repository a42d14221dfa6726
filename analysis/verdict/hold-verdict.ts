import {
  type AllowanceFigures,
  type Estimate,
  type Reason,
  type SectionLeak,
  type Verdict,
  verdictsWorstFirst,
} from '#analysis/model/hold-result.ts'
import type { Allowance } from '#analysis/model/system.ts'
import { reason } from '#analysis/reasons/phrase.ts'

/**
 * The guard-band rule: pass only if the whole interval is below the allowance, fail only if it is above it.
 *
 * *Source* JCGM 106:2012 / ISO 14253-1, in outline.
 */
export function guardBanded(judged: Estimate, allowed: number): 'pass' | 'fail' | 'undecided' {
  if (judged.high < allowed) return 'pass'
  if (judged.low > allowed) return 'fail'
  return 'undecided'
}

/** The verdict of a hold: void if the hold as a whole is void, else the worst of its sections. */
export function overallVerdict(parts: readonly Verdict[], voids: readonly Reason[]): Verdict {
  if (voids.length > 0) return 'void'
  return verdictsWorstFirst.find((verdict) => parts.includes(verdict)) ?? 'void'
}

const codes = {
  pass: 'leak-below-allowance',
  fail: 'leak-above-allowance',
  undecided: 'interval-spans-allowance',
} as const

const rates = [
  ['gas-leak', 'scc/min', 'scc_per_min'],
  ['liquid-leak', 'mL/min', 'mL_per_min'],
] as const

/** Reason for a section's verdict: the interval against the allowance, in the allowance's kind of figure. */
export function verdictReason(
  verdict: 'pass' | 'fail' | 'undecided',
  leak: SectionLeak,
  allowance: AllowanceFigures,
  allow: Allowance,
): Reason {
  const { section } = leak
  const code = codes[verdict]
  for (const [kind, unit, key] of rates) {
    const rate = leak[key]
    if (allow.kind !== kind || rate === undefined) continue
    const { low, high } = rate
    return reason(code, { section, of: 'leak', unit, low, high, allowed: allowance[key] ?? 0 })
  }
  const { low, high } = leak.drop_Pa
  const of = allow.kind === 'rise' ? 'rise' : 'drop'
  return reason(code, { section, of, unit: 'Pa', low, high, allowed: allowance.drop_Pa })
}
