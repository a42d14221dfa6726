import type { SupplyEvidence } from '#analysis/model/hold-result.ts'
import type { Recording } from '#analysis/model/samples.ts'
import { z95 } from '#analysis/numeric/normal-distribution.ts'
import { lineThrough } from '#analysis/signal/line-through.ts'
import type { PressureSignal } from '#analysis/signal/pressure-signal.ts'

/** A look at the supply lasts at least this long, [s]. */
const leastLookS = 50
/** And must leave less than this share of the allowed leak to come in. Own figure. */
const seepShare = 0.25

/**
 * Whether marks prove the supply shut: its hose off and the port plugged (`supply name="off"`) before the hold, or a look
 * before pump-up (`supply name="look"`): the section closed and without pressure, the supply on behind its shut cock. What
 * seeps in then lifts the gauge.
 *
 * @param allowedPaPerS fall of the pressure that the allowance is worth, [Pa/s]
 */
export function supplyEvidence(
  recording: Recording,
  { timeS, gaugePa }: PressureSignal,
  stages: { readonly pumpUpS: number | null; readonly holdS: number | null },
  allowedPaPerS: number,
): SupplyEvidence {
  const { pumpUpS, holdS } = stages
  const marks = recording.marks.filter(
    ({ kind, timeS: atS }) => kind === 'supply' && holdS !== null && atS <= holdS,
  )
  const afterPumping = marks.filter(({ timeS: atS }) => pumpUpS === null || atS > pumpUpS)
  if (afterPumping.at(-1)?.fields.name === 'off') return 'off'
  const look = marks.findLast(
    ({ timeS: atS, fields }) => fields.name === 'look' && pumpUpS !== null && atS < pumpUpS,
  )
  if (look === undefined || pumpUpS === null || pumpUpS - look.timeS < leastLookS) return null
  const line = lineThrough(timeS, gaugePa, look.timeS + 2, pumpUpS - 1, pumpUpS)
  return line !== null && line.perS + z95 * line.stdPerS < seepShare * allowedPaPerS ? 'looked-at' : null
}
