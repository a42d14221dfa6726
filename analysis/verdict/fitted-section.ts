import type { HoldLeak } from '#analysis/fit/hold-leak.ts'
import { type RigStanding, subtractRig } from '#analysis/hunt/rig.ts'
import type { Estimate, HoldCurves, Meaning, Reason } from '#analysis/model/hold-result.ts'
import { times } from '#analysis/numeric/estimate.ts'
import { reason } from '#analysis/reasons/phrase.ts'
import type { FollowedChange } from '#analysis/signal/followed-change.ts'
import { zeroDrift } from '#analysis/signal/gauge-zero.ts'
import type { PressureSignal } from '#analysis/signal/pressure-signal.ts'
import type { HoldStages } from '#analysis/stages/stages-from-pressure.ts'

/** Parts of a leak rate's variance by how they fall with hold time; all at the time already held. */
export interface ShrinkingVariance {
  /** White noise of the readings: falls with the cube of the time. */
  readonly white: number
  /** Random walk of the sensor: falls with the time. */
  readonly walk: number
  /** Parts that time does not reduce: unknown weather, volume, the leak law. */
  readonly lasting: number
  /** Total; the remainder outside the parts (heat, creep, temperature) falls slowly. */
  readonly whole: number
  /** Medium; a gas if left out. */
  readonly of?: 'gas' | 'liquid'
  /** Corrected change, as a standard error: it continues as long as its cause moves. */
  readonly followed?: FollowedChange
}

/** Result of a fit, of gas or liquid, before the verdict. */
export interface FittedSection extends HoldLeak {
  readonly rawDropPa: number
  readonly reasons: readonly Reason[]
  readonly curves: HoldCurves
  /** Full lines, whose pressure itself measures the temperature: the curves corrected by the thermometer alone. */
  byThermometer?(): HoldCurves
  readonly meaning: Meaning
  readonly variance: ShrinkingVariance
}

/**
 * Subtracts the leak of a proven rig from a section's leak. The leak of a failed rig is not subtracted: the rig is repaired
 * before use, and subtracting a leak that no longer exists would hide an equal leak of the section.
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
  return {
    ...fitted,
    leak,
    judged: times(judged, spec.allow.kind === 'liquid-leak' ? 1 / 60e6 : 1),
    reasons: [...fitted.reasons, reason],
  }
}

/** A drift counts above this many standard uncertainties and this share of the allowance over the hold. Own figures. */
const errors = 2
const leastShare = 0.05

/**
 * Widens the interval by the gauge's zero drift from before pump-up to after the vent. The time of the drift is unknown, so
 * the interval spans both the leak as read and the leak less a drift at a steady rate.
 */
export function afterSecondZero(
  fitted: FittedSection,
  signal: PressureSignal,
  stages: HoldStages,
  heldS: number,
): FittedSection {
  const { spec } = stages
  // The end of an unmarked vent is unknown: the end of a slow vent looks like a zero drift.
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
