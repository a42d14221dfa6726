import { type HoldResult, leaksOf, type Verdict } from '#analysis/model/hold-result.ts'
import { type Finding, holds, note } from './finding.ts'

/** Rounding of different processors is far below this; a different computation rarely is. */
const relativeTolerance = 1e-6

/** Members with wording for people, which a newer version may improve. */
const words: ReadonlySet<string> = new Set(['message', 'text', 'source'])

const units: Readonly<Record<string, string>> = {
  drop_Pa: 'Pa',
  mol_per_s: 'mol/s',
  scc_per_min: 'scc/min',
  mL_per_min: 'mL/min',
}

/** The verdict as sealed and as computed by this program, whose version `by` names. */
export function verdictFinding(
  sealed: Verdict | null,
  now: Verdict | null,
  difference: string | null,
  by: string,
  source: string,
): Finding {
  if (sealed !== now)
    return note(`verdict DIFFERS: sealed as ${sealed}, ${by} computes ${now}; trust the worse`)
  return difference === null
    ? holds(`verdict recomputed from ${source}: ${now}, every figure as sealed`)
    : note(`verdict ${now} again by ${by} with other figures: ${difference}`)
}

/** The first different number that the verdict of a hold rests on, in words; null when all agree. */
export function holdDifference(sealed: HoldResult, now: HoldResult): string | null {
  const figures: readonly (readonly [
    string,
    number | null | undefined,
    number | null | undefined,
    string,
  ])[] = [
    ['length of the hold', sealed.seconds, now.seconds, 's'],
    // A damaged record, or a hold that the system file does not define, has no allowance.
    ['allowance', sealed.allowance?.drop_Pa, now.allowance?.drop_Pa, 'Pa'],
    ['raw drop', sealed.raw_drop_Pa, now.raw_drop_Pa, 'Pa'],
  ]
  for (const [what, a, b, unit] of figures)
    if (!near(a, b)) return differ(what, a ?? undefined, b ?? undefined, unit)
  const [before, after] = [leaksOf(sealed), leaksOf(now)]
  if (before.length !== after.length) return `${before.length} leaks sealed, ${after.length} computed now`
  for (const [i, leak] of before.entries())
    for (const key of ['drop_Pa', 'mol_per_s', 'scc_per_min', 'mL_per_min'] as const) {
      const [a, b] = [leak[key], after[i]?.[key]]
      const width = a && Math.max(Math.abs(a.high - a.low), Math.abs(a.value))
      if ((['value', 'low', 'high'] as const).some((bound) => !near(a?.[bound], b?.[bound], width)))
        return differ(`leak of ${leak.section}`, a?.value, b?.value, units[key])
    }
  return null
}

/**
 * The first difference of two results, as words; null when every number and every code agrees. A member that only one
 * of the two has is also a difference.
 */
export function firstDifference(sealed: unknown, now: unknown, at = ''): string | null {
  if (typeof sealed === 'number' && typeof now === 'number')
    return near(sealed, now) ? null : differ(at, sealed, now)
  if (!isTree(sealed) || !isTree(now)) return Object.is(sealed, now) ? null : differ(at, sealed, now)
  for (const key of new Set([...Object.keys(sealed), ...Object.keys(now)])) {
    if (words.has(key)) continue
    const found = firstDifference(sealed[key], now[key], at === '' ? key : `${at} ${key}`)
    if (found !== null) return found
  }
  return null
}

function isTree(value: unknown): value is Readonly<Record<string, unknown>> {
  return typeof value === 'object' && value !== null
}

/** @param scale what the tolerance is a share of, where that is more than the numbers */
function near(a: number | null | undefined, b: number | null | undefined, scale = 0): boolean {
  if (a == null || b == null) return (a ?? null) === (b ?? null)
  return Math.abs(a - b) <= relativeTolerance * Math.max(Math.abs(a), Math.abs(b), scale)
}

function differ(what: string, sealed: unknown, now: unknown, unit = ''): string {
  const say = (value: unknown): string =>
    value === undefined
      ? 'none'
      : typeof value === 'number'
        ? `${Number(value.toPrecision(6))} ${unit}`.trimEnd()
        : isTree(value)
          ? 'a list'
          : String(value)
  return `${what} sealed as ${say(sealed)}, computed now as ${say(now)}`
}
