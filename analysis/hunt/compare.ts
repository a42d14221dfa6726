import type { Evidence } from '#analysis/model/evidence.ts'
import { type Estimate, type HoldResult, leaksOf, type SectionLeak } from '#analysis/model/hold-result.ts'
import type { System } from '#analysis/model/system.ts'
import { holdCoverage } from '#analysis/model/system-graph.ts'
import { stdOf, times } from '#analysis/numeric/estimate.ts'
import { normalCdf, z95 } from '#analysis/numeric/normal-distribution.ts'
import { hunt } from './hunt.ts'
import { flowRatio } from './leak-figures.ts'

/**
 * Compares the holds before and after work.
 *
 * change = after − before, u² = u_before² + u_after² + (v·change)²; the earlier leak is first scaled to the later hold's
 * pressure. The volume's relative standard uncertainty v scales both leaks alike, so each u excludes it and it counts once,
 * on the change. It cancels in the removed share.
 *
 * @param evidence of both recordings: holds and marks, to find the remaining leak.
 */
export function compareHolds(
  system: System,
  before: HoldResult,
  after: HoldResult,
  evidence: readonly Evidence[],
) {
  const pressure = (r: HoldResult): number => system.holds.find((h) => h.id === r.hold)?.pressurePa ?? 0
  const ratio = flowRatio(pressure(after), pressure(before))
  const sections = leaksOf(after).flatMap((now) => {
    const then = leaksOf(before).find((l) => l.section === now.section)
    return (then && changeOf(then, now, ratio, volumeStd(system, after, now.section))) ?? []
  })
  const isLeft = sections.some((s) => !s.explains_all && s.after.low > 0) || after.verdict === 'fail'
  const found = isLeft ? hunt(system, evidence) : null
  const left = (found?.fittings ?? [])
    .filter((f) => f.leaking >= 0.02)
    .slice(0, 5)
    .map(({ id, section, name, leaking }) => ({ id, section, name, leaking }))
  return {
    stillhold: 1 as const,
    before: { recording: before.recording, hold: before.hold, verdict: before.verdict },
    after: { recording: after.recording, hold: after.hold, verdict: after.verdict },
    /** Summary in one sentence. */
    message: inWords(before, after, sections),
    sections,
    /** Suspects for the remaining leak, likeliest first, at most five; empty when none remains. */
    left,
    cautions: cautionsOf(before, after, sections, pressure),
  }
}

export type Comparison = Readonly<ReturnType<typeof compareHolds>>

/** Relative standard uncertainty of the volume measured with a section: rectangular, as in the leak. */
export function volumeStd(system: System, { hold }: HoldResult, section: string): number {
  const spec = system.holds.find((h) => h.id === hold)
  const body = spec && holdCoverage(system, spec).bodies.find((b) => b.sections.includes(section))
  if (!body) return 0
  const parts = system.sections.filter((s) => body.sections.includes(s.id))
  return Math.hypot(...parts.map((s) => s.volumeToleranceM3)) / body.volumeM3 / Math.sqrt(3)
}

/** A leak without the interval's part from a common relative error; at least a fiftieth remains. */
export function withoutCommon(leak: Estimate, relativeStd: number): Estimate {
  const common = z95 * relativeStd * Math.abs(leak.value)
  const own = (half: number): number => Math.sqrt(Math.max((0.02 * half) ** 2, half ** 2 - common ** 2))
  return {
    value: leak.value,
    low: leak.value - own(leak.value - leak.low),
    high: leak.value + own(leak.high - leak.value),
  }
}

/** Change of one section's leak between two holds. */
export type LeakChange = Readonly<NonNullable<ReturnType<typeof changeOf>>>

function changeOf(then: SectionLeak, now: SectionLeak, ratio: number, relativeStd: number) {
  const unit = now.mol_per_s && then.mol_per_s ? ('mol_per_s' as const) : ('mL_per_min' as const)
  if (!then[unit] || !now[unit]) return null
  const changeIn = (earlier: Estimate, later: Estimate) => {
    const [before, after] = [times(earlier, ratio), times(later, 1)]
    return { before, after, change: difference(before, after, relativeStd) }
  }
  const { before, after, change } = changeIn(then[unit], now[unit])
  const std = stdOf(change)
  const p = std > 0 ? 2 * normalCdf(-Math.abs(change.value) / std) : change.value === 0 ? 1 : 0
  const changed: 'less' | 'more' | 'not-shown' =
    change.high < 0 ? 'less' : change.low > 0 ? 'more' : 'not-shown'
  const scc =
    then.scc_per_min && now.scc_per_min
      ? { ...changeIn(then.scc_per_min, now.scc_per_min), reference: now.scc_per_min.reference }
      : null
  return {
    section: now.section,
    unit,
    before,
    after,
    /** After minus before, 95 % interval. */
    change,
    /** The same in scc/min, with the reference; null for a liquid. */
    scc_per_min: scc,
    /** Two-sided probability of a change at least this large if nothing changed. */
    p_value: p,
    changed,
    /** Share of the earlier leak that was removed; null if the earlier leak is not clearly above zero. */
    gone: shareGone(withoutCommon(before, relativeStd), withoutCommon(after, relativeStd)),
    /** True when the work explains the whole leak: it fell, and the rest is not above zero. */
    explains_all: changed === 'less' && after.low <= 0,
  }
}

/** 1 − after/before with its 95 % interval. *Source*: Fieller 1954, for independent normals. */
function shareGone(before: Estimate, after: Estimate): Estimate | null {
  if (before.low <= 0) return null
  const half = (e: Estimate): number => (e.high - e.low) / 2
  const hb = half(before)
  const ha = half(after)
  const a = before.value ** 2 - hb ** 2
  const b = before.value * after.value
  const c = after.value ** 2 - ha ** 2
  const root = Math.sqrt(Math.max(0, b * b - a * c))
  if (a <= 0) return null
  return { value: 1 - after.value / before.value, low: 1 - (b + root) / a, high: 1 - (b - root) / a }
}

function difference(then: Estimate, now: Estimate, relativeStd: number): Estimate {
  const [before, after] = [withoutCommon(then, relativeStd), withoutCommon(now, relativeStd)]
  const value = after.value - before.value
  const common = z95 * relativeStd * value
  return {
    value,
    low: value - Math.hypot(after.value - after.low, before.high - before.value, common),
    high: value + Math.hypot(after.high - after.value, before.value - before.low, common),
  }
}

function inWords(before: HoldResult, after: HoldResult, sections: readonly LeakChange[]): string {
  if (before.verdict === 'void' || after.verdict === 'void')
    return 'One of the two holds is void, so the comparison proves nothing: hold again.'
  if (sections.length === 0)
    return 'The two holds have no measured section in common, so nothing can be compared.'
  if (sections.every((s) => s.explains_all))
    return after.verdict === 'pass'
      ? 'The leak is gone: it fell, nothing above zero is left, and the new hold passes.'
      : `The leak fell and nothing above zero is left, but the new hold is ${after.verdict}: only a pass is proof.`
  const worse = sections.filter((s) => s.changed === 'more')
  if (worse.length > 0)
    return `The leak of ${worse.map((s) => s.section).join(', ')} grew: the work made it worse, or opened another leak.`
  const less = sections.filter((s) => s.changed === 'less')
  if (less.length === 0)
    return after.verdict === 'pass' && before.verdict === 'pass'
      ? 'No change is shown, and both holds pass.'
      : 'No change is shown: the work did not reach the leak, or the change is too small to see.'
  const share = less[0].gone
  const part = share ? ` by about ${Math.round(100 * share.value)} %` : ''
  return `The leak of ${less.map((s) => s.section).join(', ')} fell${part}, but some of it is left${after.verdict === 'pass' ? ', within the allowance' : ''}.`
}

function cautionsOf(
  before: HoldResult,
  after: HoldResult,
  sections: readonly LeakChange[],
  pressure: (r: HoldResult) => number,
): string[] {
  const out: string[] = []
  if (before.hold !== after.hold)
    out.push(`The holds differ (${before.hold}, ${after.hold}): they may not cover the same fittings.`)
  if (pressure(before) !== pressure(after))
    out.push(
      'The holds differ in pressure: the earlier leak is scaled by the laminar law, which is an assumption.',
    )
  for (const leak of leaksOf(after))
    if (!sections.some((s) => s.section === leak.section))
      out.push(`${leak.section} was not measured in the same way before, so it cannot be compared.`)
  return out
}
