import type { AllowanceFigures, Reason, SectionLeak } from '#analysis/model/hold-result.ts'
import type { Allowance } from '#analysis/model/system.ts'
import { reason } from '#analysis/reasons/phrase.ts'

const codes = {
  pass: 'leak-below-allowance',
  fail: 'leak-above-allowance',
  undecided: 'interval-spans-allowance',
} as const

/** Why a section got its verdict: the interval against the allowance, in the kind of figure the allowance is stated in. */
export function verdictReason(
  verdict: 'pass' | 'fail' | 'undecided',
  leak: SectionLeak,
  allowance: AllowanceFigures,
  allow: Allowance,
): Reason {
  const { section } = leak
  const code = codes[verdict]
  if (allow.kind === 'gas-leak' && leak.scc_per_min) {
    const { low, high } = leak.scc_per_min
    return reason(code, {
      section,
      of: 'leak',
      unit: 'scc/min',
      low,
      high,
      allowed: allowance.scc_per_min ?? 0,
    })
  }
  if (allow.kind === 'liquid-leak' && leak.mL_per_min) {
    const { low, high } = leak.mL_per_min
    return reason(code, {
      section,
      of: 'leak',
      unit: 'mL/min',
      low,
      high,
      allowed: allowance.mL_per_min ?? 0,
    })
  }
  const { low, high } = leak.drop_Pa
  const of = allow.kind === 'rise' ? 'rise' : 'drop'
  return reason(code, { section, of, unit: 'Pa', low, high, allowed: allowance.drop_Pa })
}
