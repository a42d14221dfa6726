import { gaugeZero } from '#analysis/signal/gauge-zero.ts'
import { lineThrough } from '#analysis/signal/line-through.ts'
import type { PressureSignal } from '#analysis/signal/pressure-signal.ts'

/** How far the gauge's zero moved from before pump-up to after the vent, [Pa]. */
export interface ZeroDrift {
  readonly driftPa: number
  readonly stdPa: number
  /** Time between the two zeros, [s]. */
  readonly spanS: number
}

/** The gas of a section has left and the gauge has come to rest so long after the vent, [s]. */
const restAfterVentS = 8
/** And this much is needed of the rest, [s]. */
const leastRestS = 6
const longestRestS = 30
/** An element shows a twentieth of a percent of a change late (hysteresis and relaxation). Source: common practice. */
const lateShare = 0.0005
/** At rest it leaves an even drift by less than this share of the test pressure in ten seconds; else the vent or a hose still relaxes. Own figure. */
const restShare = 0.0003

/** The drift between the zero before pump-up and the one after the vent; null where either was not seen at rest. */
export function zeroDrift(
  signal: PressureSignal,
  {
    pumpUpS,
    ventS,
    endS,
  }: { readonly pumpUpS: number | null; readonly ventS: number | null; readonly endS: number },
  testPa: number,
): ZeroDrift | null {
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
  // A zero that drifts evenly goes on doing so; what moves otherwise is still being vented.
  const unevenPaPerS = Math.abs(line.perS - driftPa / spanS) - 2 * line.stdPerS
  if (10 * unevenPaPerS > restShare * Math.abs(testPa)) return null
  return {
    driftPa,
    stdPa: Math.hypot(Math.SQRT2 * line.std, lateShare * testPa),
    spanS,
  }
}
