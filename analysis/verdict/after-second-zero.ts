import type { Estimate } from '#analysis/model/hold-result.ts'
import { zeroDrift } from '#analysis/proof/second-zero.ts'
import { reason } from '#analysis/reasons/phrase.ts'
import type { PressureSignal } from '#analysis/signal/pressure-signal.ts'
import type { HoldStages } from '#analysis/stages/hold-stages.ts'
import type { FittedSection } from './fitted-section.ts'

/** A drift counts when it is so many standard uncertainties, and this share of the allowance over the hold. Own figures. */
const errors = 2
const leastShare = 0.05

/**
 * Widens the interval by what the gauge's zero moved from before pump-up to after the vent: when in between it moved is not
 * known, so that the interval spans both, the leak as read and the leak less a drift at a steady rate.
 */
export function afterSecondZero(
  fitted: FittedSection,
  signal: PressureSignal,
  stages: HoldStages,
  heldS: number,
): FittedSection {
  const { spec } = stages
  // Where nobody marked the vent, its end is not known: the last of a slow vent looks like a zero that moved.
  if (stages.source !== 'marks') return fitted
  const found = zeroDrift(signal, stages, spec.pressurePa)
  if (found === null || Math.abs(found.driftPa) < errors * found.stdPa) return fitted
  const sign = spec.pressurePa < 0 ? -1 : 1
  const overHoldPa = (sign * found.driftPa * spec.holdS) / Math.max(found.spanS, heldS)
  const share = overHoldPa / fitted.allowance.drop_Pa
  if (Math.abs(share) < leastShare) return fitted
  const widened = <E extends Estimate>(estimate: E, allowed: number): E => ({
    ...estimate,
    low: estimate.low + Math.min(0, share * allowed),
    high: estimate.high + Math.max(0, share * allowed),
  })
  const { leak, allowance } = fitted
  return {
    ...fitted,
    judged: widened(fitted.judged, fitted.allowed),
    leak: {
      ...leak,
      drop_Pa: widened(leak.drop_Pa, allowance.drop_Pa),
      ...(leak.mol_per_s && { mol_per_s: widened(leak.mol_per_s, allowance.mol_per_s ?? 0) }),
      ...(leak.scc_per_min && { scc_per_min: widened(leak.scc_per_min, allowance.scc_per_min ?? 0) }),
      ...(leak.mL_per_min && { mL_per_min: widened(leak.mL_per_min, allowance.mL_per_min ?? 0) }),
    },
    reasons: [
      ...fitted.reasons,
      reason('zero-drifted', { channel: signal.channel.id, drift_Pa: found.driftPa }),
    ],
  }
}
