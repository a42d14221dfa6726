import { mean } from '#analysis/numeric/moments.ts'
import { rangeOf } from '#analysis/numeric/order-statistics.ts'
import { firstIndexAt } from './block-averages.ts'
import { lineThrough } from './column-spans.ts'
import type { PressureSignal } from './pressure-signal.ts'

/** Longest look back before pump-up, [s]. */
const lookBackS = 60

/** Limit of a zero: this share of the test pressure, or this many times the gauge's error. Own figures. */
const mostShare = 0.15
const mostErrors = 2
/** Error of a gauge of unstated accuracy, over its span. Common practice. */
const usualErrorShare = 0.005
/** Deviation of an airfield's atmosphere from the standard atmosphere, used without a barometer, [Pa]. */
const unknownAtmospherePa = 10_000

/** Limit of the error of a gauge's unseen zero, [Pa]. */
export function zeroErrorPa({ channel, atmosphereKnown }: PressureSignal): number {
  const { accuracySi, rangeSi } = channel
  const own = accuracySi ?? usualErrorShare * (rangeSi === null ? 0 : rangeSi[1] - rangeSi[0])
  return atmosphereKnown ? own : own + unknownAtmospherePa
}

/**
 * Reading of the gauge at atmospheric pressure just before pump-up, [Pa]: its zero. Null when it was not seen, was not
 * steady, or was too far from zero.
 *
 * @param pumpUpS start of pump-up, [s] from the recording's start
 * @param testPa stated gauge pressure, [Pa]
 */
export function gaugeZero(signal: PressureSignal, pumpUpS: number | null, testPa: number): number | null {
  if (pumpUpS === null) return null
  const from = firstIndexAt(signal.timeS, pumpUpS - lookBackS)
  const to = firstIndexAt(signal.timeS, pumpUpS - 0.5)
  const seen = signal.gaugePa.slice(from, to).filter((p) => !Number.isNaN(p))
  if (seen.length < 5) return null
  const zero = mean(seen)
  const still = rangeOf(seen) < 0.1 * Math.abs(testPa)
  const most = Math.max(mostShare * Math.abs(testPa), mostErrors * zeroErrorPa(signal))
  return still && Math.abs(zero) < most ? zero : null
}

/** Time after the vent until the section is empty and the gauge at rest, [s]. */
const restAfterVentS = 8
/** Least time at rest, [s]. */
const leastRestS = 6
const longestRestS = 30
/** Share of a change that an element may show late (hysteresis, relaxation); a good one shows a tenth of that. Own figure. */
const lateShare = 0.006
/** Longest duration of movement other than linear drift, [s]: a slow vent, a hose that relaxes. Own figure. */
const relaxesS = 30
/** A zero that may shift by more than this share of the test pressure was not at rest. Own figure. */
const restShare = 0.005

/** Shift of the gauge's zero from before pump-up to after the vent, and the time between; null where either was not seen at rest. */
export function zeroDrift(
  signal: PressureSignal,
  stages: { readonly pumpUpS: number | null; readonly ventS: number | null; readonly endS: number },
  testPa: number,
) {
  const { pumpUpS, ventS, endS } = stages
  const before = gaugeZero(signal, pumpUpS, testPa)
  if (before === null || pumpUpS === null || ventS === null) return null
  // The last moment may belong to the next pump-up.
  const untilS = endS - 1.5
  const fromS = Math.max(ventS + restAfterVentS, untilS - longestRestS)
  if (untilS - fromS < leastRestS) return null
  const middleS = (fromS + untilS) / 2
  const line = lineThrough(signal.timeS, signal.gaugePa, fromS, untilS, middleS)
  if (line === null) return null
  const spanS = middleS - pumpUpS
  const driftPa = line.atEnd - before
  // A linear drift of the zero continues; any other movement is a vent in progress.
  const unevenPaPerS = Math.max(0, Math.abs(line.perS - driftPa / spanS) - 2 * line.stdPerS)
  const movesPa = relaxesS * unevenPaPerS
  if (movesPa > restShare * Math.abs(testPa)) return null
  return {
    driftPa,
    stdPa: Math.hypot(Math.SQRT2 * line.std, lateShare * testPa, movesPa),
    spanS,
  }
}
