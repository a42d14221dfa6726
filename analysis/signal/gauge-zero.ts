import { firstIndexAt } from './block-averages.ts'
import type { PressureSignal } from './pressure-signal.ts'

/** Longest look back before pump-up, [s]. */
const lookBackS = 60

/** A zero may stand off by this share of the test pressure, or by so many times what the gauge may be wrong. Own figures. */
const mostShare = 0.15
const mostErrors = 2
/** What a gauge of unstated accuracy may be wrong, over its span. Common practice. */
const usualErrorShare = 0.005
/** How far the atmosphere of an airfield may stand off the standard one where no barometer tells it, [Pa]. */
const unknownAtmospherePa = 10_000

/** How far a gauge's zero may be off before it was seen, as a limit, [Pa]. */
export function zeroErrorPa({ channel, atmosphereKnown }: PressureSignal): number {
  const { accuracySi, rangeSi } = channel
  const own = accuracySi ?? usualErrorShare * (rangeSi === null ? 0 : rangeSi[1] - rangeSi[0])
  return atmosphereKnown ? own : own + unknownAtmospherePa
}

/**
 * What the gauge read at the atmosphere just before pump-up, [Pa]: its zero. Null when it was not seen there, did not
 * keep still, or stood further off than a zero can be.
 *
 * @param pumpUpS when pump-up began, [s] from the recording's start
 * @param testPa stated gauge pressure, [Pa]
 */
export function gaugeZero(signal: PressureSignal, pumpUpS: number | null, testPa: number): number | null {
  if (pumpUpS === null) return null
  const from = firstIndexAt(signal.timeS, pumpUpS - lookBackS)
  const to = firstIndexAt(signal.timeS, pumpUpS - 0.5)
  const seen = signal.gaugePa.slice(from, to).filter((p) => !Number.isNaN(p))
  if (seen.length < 5) return null
  let sum = 0
  let low = Number.POSITIVE_INFINITY
  let high = Number.NEGATIVE_INFINITY
  for (const p of seen) {
    sum += p
    low = Math.min(low, p)
    high = Math.max(high, p)
  }
  const zero = sum / seen.length
  const still = high - low < 0.1 * Math.abs(testPa)
  const most = Math.max(mostShare * Math.abs(testPa), mostErrors * zeroErrorPa(signal))
  return still && Math.abs(zero) < most ? zero : null
}
