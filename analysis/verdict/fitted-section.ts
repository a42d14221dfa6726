import type { Variances } from '#analysis/fit/uncertainty-budget.ts'
import { type RigStanding, subtractRig } from '#analysis/hunt/rig.ts'
import type {
  AllowanceFigures,
  Estimate,
  HoldCurves,
  Meaning,
  Reason,
  SectionLeak,
} from '#analysis/model/hold-result.ts'
import { reason } from '#analysis/reasons/phrase.ts'
import type { FollowedChange } from '#analysis/signal/followed-change.ts'
import { zeroDrift } from '#analysis/signal/gauge-zero.ts'
import type { PressureSignal } from '#analysis/signal/pressure-signal.ts'
import type { HoldStages } from '#analysis/stages/stages-from-pressure.ts'

/** How the variance of a leak rate goes down as a hold goes on; all parts at the time already held. */
export interface ShrinkingVariance {
  /** White noise of the readings: falls with the third power of the time. */
  readonly white: number
  /** Random walk of the sensor: falls with the time. */
  readonly walk: number
  /** What time does not shrink: unknown weather, volume, the leak law. */
  readonly lasting: number
  /** All of it; what is in none of the parts (heat, creep, temperature) falls slowly. */
  readonly whole: number
  /** Of a gas where it is left out. */
  readonly of?: 'gas' | 'liquid'
  /** What was corrected, as a standard error: it goes on with what moves. */
  readonly followed?: FollowedChange
}

/** What a fit, of gas or of a liquid, tells of a section before it is judged. */
export interface FittedSection {
  readonly leak: SectionLeak
  readonly allowance: AllowanceFigures
  /** The estimate in the allowance's own unit, and the allowance in it. */
  readonly judged: Estimate
  readonly allowed: number
  readonly rawDropPa: number
  readonly reasons: readonly Reason[]
  readonly curves: HoldCurves
  /** Of a full line, where the pressure itself tells the temperature: the curves as the thermometer alone corrects them. */
  byThermometer?(): HoldCurves
  readonly meaning: Meaning
  readonly variance: ShrinkingVariance
  /** Where the variance of the judged figure comes from. */
  variances(): Variances
}

/**
 * What is left of a section's leak when that of a proven rig is taken off. A rig that failed is put right before it is used:
 * what it leaked then would be taken off although it may be gone, and hide as large a leak of the section.
 */
export function lessRig(fitted: FittedSection, rig: RigStanding, { spec }: HoldStages): FittedSection {
  if (rig.state !== 'proven' || rig.leak === null || rig.pressurePa === null) return fitted
  const taken = subtractRig(fitted.leak, rig.leak, spec.pressurePa, rig.pressurePa)
  if (taken === null) return fitted
  const { leak, reason } = taken
  const judged =
    spec.allow.kind === 'gas-leak'
      ? leak.mol_per_s
      : spec.allow.kind === 'liquid-leak'
        ? leak.mL_per_min
        : leak.drop_Pa
  if (judged === undefined) return fitted
  const scale = spec.allow.kind === 'liquid-leak' ? 1 / 60e6 : 1
  return {
    ...fitted,
    leak,
    judged: { value: scale * judged.value, low: scale * judged.low, high: scale * judged.high },
    reasons: [...fitted.reasons, reason],
  }
}

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
