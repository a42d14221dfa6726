import type { AllowanceFigures, Estimate, Reason, SectionLeak } from '#analysis/model/hold-result.ts'
import type { Allowance, Channel } from '#analysis/model/system.ts'
import { toUnit } from '#analysis/physics/units.ts'

/** The sentence of a verdict: the bound that decides, against the allowance, in the unit the allowance is stated in. */
export function verdictReason(
  verdict: 'pass' | 'fail' | 'undecided',
  leak: SectionLeak,
  allowance: AllowanceFigures,
  allow: Allowance,
  channel: Channel,
): Reason {
  const unit = channel.scale === null ? channel.unit : 'kPa'
  const pressure = (pa: number): number => toUnit(pa, unit, 'pressure')
  const [shown, allowed, words]: [Estimate, number, string] =
    allow.kind === 'gas-leak' && leak.scc_per_min
      ? [leak.scc_per_min, allowance.scc_per_min ?? 0, 'scc/min']
      : allow.kind === 'liquid-leak' && leak.mL_per_min
        ? [leak.mL_per_min, allowance.mL_per_min ?? 0, 'mL/min']
        : [mapped(leak.drop_Pa, pressure), pressure(allowance.drop_Pa), unit]
  const name = allow.kind === 'rise' ? 'rise' : allow.kind === 'drop' ? 'drop' : 'leak'
  const { section } = leak
  if (verdict === 'pass')
    return {
      code: 'leak-below-allowance',
      message: `${section}: with 95 % confidence the ${name} is under ${digits(shown.high)} ${words}; ${digits(allowed)} ${words} is allowed.`,
    }
  if (verdict === 'fail')
    return {
      code: 'leak-above-allowance',
      message: `${section}: with 95 % confidence the ${name} is over ${digits(shown.low)} ${words}; only ${digits(allowed)} ${words} is allowed.`,
    }
  return {
    code: 'interval-spans-allowance',
    message: `${section}: the ${name} lies between ${digits(shown.low)} and ${digits(shown.high)} ${words}, and the allowance of ${digits(allowed)} ${words} between them: the data cannot tell yet.`,
  }
}

function mapped({ value, low, high }: Estimate, scale: (si: number) => number): Estimate {
  return { value: scale(value), low: scale(low), high: scale(high) }
}

function digits(value: number): string {
  return String(Number(value.toPrecision(3)))
}
