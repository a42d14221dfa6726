import type { Evidence } from '#analysis/model/evidence.ts'
import { type Estimate, leaksOf, type Reason, type SectionLeak } from '#analysis/model/hold-result.ts'
import { times } from '#analysis/numeric/estimate.ts'
import { reason } from '#analysis/reasons/phrase.ts'
import { holdsInOrder } from './evidence-order.ts'
import { flowRatio } from './leak-figures.ts'
import { rigSubtractedCode } from './problem-of-evidence.ts'

/** Validity of a rig's proof, [ns]: 24 h; later it has been coiled, carried and screwed on. Own figure. */
const rigProofNs = 24n * 3600n * 1_000_000_000n

/** State of proof of the test rig (hose, caps, gauge): its last hold alone within the day before a time. */
export function rigStanding(evidence: readonly Evidence[], rig: string, atNs: bigint) {
  const held = holdsInOrder(evidence).findLast(({ evidence: { result }, spec, startNs }) => {
    const alone = spec?.sections.length === 1 && spec.sections[0] === rig
    const decides = result.verdict === 'pass' || result.verdict === 'fail'
    return alone && decides && startNs < atNs && atNs - startNs <= rigProofNs
  })
  const result = held?.evidence.result
  const decided = result?.verdict === 'pass' ? ('proven' as const) : ('failed' as const)
  return {
    rig,
    state: result ? decided : ('unproven' as const),
    /** Record or recording of that hold. */
    where: held?.where ?? null,
    /** Its measured leak, and the gauge pressure of that leak, [Pa]. */
    leak: (result && leaksOf(result)[0]) ?? null,
    pressurePa: held?.spec?.pressurePa ?? null,
  }
}

export type RigStanding = Readonly<ReturnType<typeof rigStanding>>

/** Caution about the rig for a hold made with it; null if the rig is proven. */
export function rigCaution(standing: RigStanding): Reason | null {
  const { rig, state, where } = standing
  if (state === 'proven') return null
  if (state === 'failed') return reason('rig-leaks', { rig, where: where ?? '' })
  return reason('rig-unproven', { rig })
}

/**
 * Subtracts the rig's leak from the leak of a section held with it; the intervals add in quadrature, per side.
 *
 * value = section − r·rig, low = value − √((s − s_low)² + r²(g_high − g)²), high likewise; r the laminar flow ratio of the
 * two pressures. Never raises the leak: a negative rig leak counts as zero and keeps its width.
 *
 * @param pressurePa stated test pressure of the section's hold, gauge, [Pa].
 * @param rigPressurePa that of the rig's hold.
 * @returns null when the rig's leak is in another unit than the section's.
 */
export function subtractRig(
  leak: SectionLeak,
  rigLeak: SectionLeak,
  pressurePa: number,
  rigPressurePa: number,
): { readonly leak: SectionLeak; readonly reason: Reason } | null {
  const ratio = flowRatio(pressurePa, rigPressurePa)
  const gas = difference(leak.mol_per_s, rigLeak.mol_per_s, ratio)
  const liquid = difference(leak.mL_per_min, rigLeak.mL_per_min, ratio)
  const changed = gas ?? liquid
  const before = gas ? leak.mol_per_s : leak.mL_per_min
  if (!changed || !before) return null
  const scc = difference(leak.scc_per_min, rigLeak.scc_per_min, ratio)
  return {
    leak: {
      ...leak,
      ...(gas ? { mol_per_s: gas } : {}),
      ...(liquid ? { mL_per_min: liquid } : {}),
      ...(scc && leak.scc_per_min ? { scc_per_min: { ...leak.scc_per_min, ...scc } } : {}),
      drop_Pa: scaled(leak.drop_Pa, before, changed),
    },
    reason: reason(rigSubtractedCode, {}),
  }
}

function difference(leak: Estimate | undefined, rig: Estimate | undefined, ratio: number): Estimate | null {
  if (!leak || !rig) return null
  const value = leak.value - ratio * Math.max(0, rig.value)
  return {
    value,
    low: value - Math.hypot(leak.value - leak.low, ratio * (rig.high - rig.value)),
    high: value + Math.hypot(leak.high - leak.value, ratio * (rig.value - rig.low)),
  }
}

/** Scales the drop with the leak: both are proportional for a given volume. */
function scaled(drop: Estimate, before: Estimate, after: Estimate): Estimate {
  const width = before.high - before.low
  if (before.value === 0 && width === 0) return drop
  const perLeak =
    Math.abs(before.value) > 0.1 * width ? drop.value / before.value : (drop.high - drop.low) / width
  return times(after, perLeak)
}
