import { type RigStanding, subtractRig } from '#analysis/hunt/rig.ts'
import type { HoldStages } from '#analysis/stages/stages-from-pressure.ts'
import type { FittedSection } from './fitted-section.ts'

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
