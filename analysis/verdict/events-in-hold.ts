import type { HoldEvent } from '#analysis/model/hold-result.ts'
import type { Recording } from '#analysis/model/samples.ts'
import { firstIndexAt } from '#analysis/signal/block-averages.ts'
import { findEvents } from './find-events.ts'
import type { FittedSection } from './fitted-section.ts'

/** Changes of the leak and jumps of the pressure inside the hold. */
export function eventsInHold(
  recording: Recording,
  { curves, allowance, leak }: FittedSection,
  holdS: number,
  statedS: number,
): HoldEvent[] {
  const from = firstIndexAt(curves.timeS, holdS)
  const rate = allowance.mol_per_s ?? (allowance.mL_per_min ?? 0) / 60e6
  const leakPerPa = (rate * statedS) / allowance.drop_Pa
  const compensatedPa = curves.compensatedPa.subarray(from)
  if (!Number.isFinite(leakPerPa) || !compensatedPa.every(Number.isFinite)) return []
  return findEvents(
    {
      section: curves.section,
      timeS: curves.timeS.subarray(from),
      compensatedPa,
      leakPerPa,
      leakUnit: leak.mol_per_s ? 'mol_per_s' : 'm3_per_s',
    },
    recording.marks,
    recording.startNs,
  )
}
