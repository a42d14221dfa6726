import { medianOf } from '#analysis/numeric/order-statistics.ts'
import { isLiquid } from '#analysis/physics/fuel-properties.ts'
import { pressureTrack } from '#analysis/signal/pressure-track.ts'
import { operatorDisturbances } from '#analysis/stages/operator-disturbances.ts'
import { blocksPass, type Faults, noFaults, voidHold } from './fault.ts'
import type { GaugeView } from './gauge-view.ts'

/** A fall of this share of the test pressure within this time is too fast for a growing leak. Own figures. */
const letOffShare = 0.03
const withinS = 60
/** A single step down of these shares of the allowance and of the test pressure means a moved cock or valve. Own figures. */
const steppedShare = 0.25
const steppedOfTest = 0.002
/** Least rise that counts as pumping by hand, as a share of the test pressure. Own figure. */
const pumpedShare = 0.001
/** The fit models the rest of the pumping transient up to this time after the start of the hold, [s]. */
const startS = 8

/** Detects pumping or a sudden release of pressure during the hold. */
export function disturbedHold(view: GaugeView): Faults {
  const { signal, spec, section, holdS, untilS, testPa, allowedPa, noise } = view
  // A known volume injected into a full line to measure its stiffness is not a fault.
  if (isLiquid(section.medium)) return noFaults
  const track = pressureTrack(signal, spec, holdS, untilS)
  const last = track.timeS.length - 1
  if (last < 20) return noFaults
  for (const { at, kind } of operatorDisturbances(track, 0, last, false)) {
    const atS = track.timeS[at]
    if (atS < holdS + startS) continue
    const before = medianOf(view.level(atS - 12, atS - 4))
    const after = medianOf(view.level(atS + 4, atS + 12))
    const least = Math.max(pumpedShare * testPa, 2 * noise.step, 3 * noise.std)
    if (after - before > least)
      return blocksPass('pumped-during-hold', { section: section.id, seconds: atS - holdS })
    if (kind !== 'let-off') continue
    const later = medianOf(view.level(Math.min(atS + withinS, untilS) - 4, Math.min(atS + withinS, untilS)))
    const stepped = before - after > Math.max(steppedShare * allowedPa, steppedOfTest * testPa, least)
    const stays = Math.abs(after - later) < 0.3 * (before - after)
    if (before - later > letOffShare * testPa)
      return voidHold('let-off-during-hold', {
        section: section.id,
        share: (before - later) / testPa,
        seconds: untilS - atS,
      })
    if (stepped && stays) return blocksPass('pressure-stepped', { section: section.id, seconds: atS - holdS })
  }
  return noFaults
}
