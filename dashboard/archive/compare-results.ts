import { type Estimate, type HoldResult, leaksOf, type Verdict } from '#analysis/model/hold-result.ts'

export interface ResultComparison {
  readonly sealed: Verdict
  readonly recomputed: Verdict
  /** The first different number, in words; null when all agree. */
  readonly figure: string | null
}

/** Rounding of different processors is far below this; a different computation rarely is. */
const relativeTolerance = 1e-6

/** Compares the sealed with the recomputed result: the verdict, and every number it rests on. */
export function compareResults(sealed: HoldResult, now: HoldResult): ResultComparison {
  return { sealed: sealed.verdict, recomputed: now.verdict, figure: firstDifference(sealed, now) }
}

function firstDifference(sealed: HoldResult, now: HoldResult): string | null {
  if (!same(sealed.seconds, now.seconds))
    return differ('length of the hold', sealed.seconds, now.seconds, 's')
  // A damaged record, or a hold that the system file does not define, has no allowance.
  const [allowed, allows] = [sealed.allowance?.drop_Pa, now.allowance?.drop_Pa]
  if (!same(allowed, allows)) return differ('allowance', allowed, allows, 'Pa')
  if (!same(sealed.raw_drop_Pa, now.raw_drop_Pa))
    return differ('raw drop', sealed.raw_drop_Pa, now.raw_drop_Pa, 'Pa')
  const before = leaksOf(sealed)
  const after = leaksOf(now)
  if (before.length !== after.length) return `${before.length} leaks sealed, ${after.length} computed now`
  for (let i = 0; i < before.length; i++) {
    for (const key of ['drop_Pa', 'mol_per_s', 'scc_per_min', 'mL_per_min'] as const) {
      const [a, b] = [before[i][key], after[i][key]]
      if (!sameEstimate(a, b)) return differ(`leak of ${before[i].section}`, a?.value, b?.value, units[key])
    }
  }
  return null
}

function sameEstimate(a: Estimate | undefined, b: Estimate | undefined): boolean {
  if (a === undefined || b === undefined) return a === b
  const width = Math.max(Math.abs(a.high - a.low), Math.abs(a.value))
  const near = (x: number, y: number): boolean => Math.abs(x - y) <= relativeTolerance * width || same(x, y)
  return near(a.value, b.value) && near(a.low, b.low) && near(a.high, b.high)
}

function same(a: number | null | undefined, b: number | null | undefined): boolean {
  if (a == null || b == null) return (a ?? null) === (b ?? null)
  return Math.abs(a - b) <= relativeTolerance * Math.max(Math.abs(a), Math.abs(b))
}

function differ(
  what: string,
  a: number | null | undefined,
  b: number | null | undefined,
  unit: string,
): string {
  const say = (value: number | null | undefined): string =>
    value == null ? 'none' : `${Number(value.toPrecision(6))} ${unit}`
  return `${what} sealed as ${say(a)}, computed now as ${say(b)}`
}

const units = { drop_Pa: 'Pa', mol_per_s: 'mol/s', scc_per_min: 'scc/min', mL_per_min: 'mL/min' } as const
