import { mean } from '#analysis/numeric/moments.ts'
import { lineThrough, sliceOf } from '#analysis/signal/column-spans.ts'
import { barometerOf, type PressureSignal, pressureSignals } from '#analysis/signal/pressure-signal.ts'
import { allFaults, blocksPass, caution, type Faults, noFaults } from './fault.ts'
import type { GaugeView } from './gauge-view.ts'

/** Two gauges may diverge by this share of the allowance, beyond this many standard errors: cheap ones drift. Own figures. */
const mostApart = 0.5
const errors = 4
/** A gauge that rose by less than this share of the test pressure was not on the section. Own figure. */
const roseShare = 0.5

/**
 * Compares the other gauges of a section with the judged one, the first in the file. If only one of two shows a loss, one
 * of them was shut off, drifts, or is on another section.
 */
export function secondGauge(view: GaugeView): Faults {
  const { section, signal, holdS, untilS, allowedPa, recording, system } = view
  const further = pressureSignals(recording, system, [section.id], 1)
  const own = fall(signal, holdS, untilS)
  return allFaults(
    further.map((other): Faults => {
      if (!rose(view, other))
        return caution('gauge-not-used', { section: section.id, channel: other.channel.id })
      // Without a barometer a gauge and an absolute reading diverge with the weather.
      if (other.channel.measures !== signal.channel.measures && barometerOf(recording, system) === null)
        return noFaults
      const its = fall(other, holdS, untilS)
      if (own === null || its === null) return noFaults
      const apartPa = Math.abs(own.pa - its.pa)
      if (apartPa < mostApart * allowedPa + errors * Math.hypot(own.std, its.std)) return noFaults
      return blocksPass('gauges-disagree', {
        section: section.id,
        channel: signal.channel.id,
        other: other.channel.id,
        share: apartPa / allowedPa,
      })
    }),
  )
}

/** Fall over the hold from a straight line, with its standard error, [Pa]. */
function fall(
  { timeS, gaugePa }: PressureSignal,
  holdS: number,
  untilS: number,
): { pa: number; std: number } | null {
  const line = lineThrough(timeS, gaugePa, holdS, untilS, untilS)
  return line === null ? null : { pa: -line.perS * (untilS - holdS), std: line.stdPerS * (untilS - holdS) }
}

/** Whether a gauge was under pressure when the hold began. */
function rose({ pumpUpS, holdS, testPa }: GaugeView, { timeS, gaugePa }: PressureSignal): boolean {
  const level = (fromS: number, toS: number): number => {
    return mean(sliceOf(timeS, gaugePa, fromS, toS).filter(Number.isFinite))
  }
  const rest = pumpUpS === null ? Number.NaN : level(pumpUpS - 60, pumpUpS)
  return Math.abs(level(holdS, holdS + 10) - (Number.isFinite(rest) ? rest : 0)) > roseShare * testPa
}
