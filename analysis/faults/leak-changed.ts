import type { AllowanceFigures, HoldCurves, HoldEvent } from '#analysis/model/hold-result.ts'
import type { HoldSpec } from '#analysis/model/system.ts'
import { lineThrough } from '#analysis/signal/line-through.ts'
import { blocksPass, type Faults, noFaults } from './fault.ts'

/** A change of the leak counts when it is at least this sure. Own figure. */
const sure = 0.9
/** Share of what was taken out for temperature, weather and heat by which that may be wrong. Own figure. */
const correctionTrust = 0.15
/** And the part before or after it leaks more than the allowance by so many standard errors. Own figure. */
const errors = 3

/**
 * A leak that changed in the middle of a hold and was above the allowance on one side of the change: the mean over the hold
 * may lie below it all the same. A gauge that was shut off looks so, and a joint that opened late.
 *
 * leak of a part, as a drop in the stated hold: −slope · stated hold time, of the pressure with temperature and atmosphere taken
 * out, less a share of what that took out: early in a hold the last of the heat must not be called a leak that stopped
 */
export function leakChanged(
  events: readonly HoldEvent[],
  { timeS, gaugePa, compensatedPa, section }: HoldCurves,
  allowance: AllowanceFigures,
  spec: HoldSpec,
  startNs: string,
  holdS: number,
): Faults {
  const sign = spec.pressurePa < 0 ? -1 : 1
  const endS = timeS[timeS.length - 1]
  const correctionPa = gaugePa.map((pressure, i) => pressure - compensatedPa[i])
  const doubt = (fromS: number, toS: number): number => {
    const line = lineThrough(timeS, correctionPa, fromS, toS, toS)
    return line === null ? 0 : correctionTrust * Math.abs(line.perS) * spec.holdS
  }
  const tooMuch = (fromS: number, toS: number): boolean => {
    const line = lineThrough(timeS, compensatedPa, fromS, toS, toS)
    if (line === null) return false
    const leastPa = (-sign * line.perS - errors * line.stdPerS) * spec.holdS
    return leastPa - doubt(fromS, toS) > allowance.drop_Pa
  }
  const allowed = allowance.mol_per_s ?? (allowance.mL_per_min ?? 0) / 60e6
  for (const { kind, probability, time_ns, change } of events) {
    if (kind !== 'slope' || probability < sure) continue
    const atS = Number(BigInt(time_ns) - BigInt(startNs)) / 1e9
    // No leak is less than none: one that fell by more than the allowance was above it.
    const fell = change.value < 0
    const unsure = Math.max(doubt(holdS, atS), doubt(atS, endS)) / allowance.drop_Pa
    const byMore =
      Math.min(Math.abs(change.low), Math.abs(change.high)) > (1 + unsure) * allowed &&
      change.low * change.high > 0
    const before = (fell && byMore) || tooMuch(holdS, atS)
    if (!before && !byMore && !tooMuch(atS, endS)) continue
    return blocksPass('leak-changed', { section, side: before ? 'before' : 'after', seconds: atS - holdS })
  }
  return noFaults
}
