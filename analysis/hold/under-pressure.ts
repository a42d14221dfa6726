import { firstIndexAt } from './block-averages.ts'
import type { HoldStages } from './hold-stages.ts'
import type { PressureSignal } from './pressure-signal.ts'

/** Whoever marks the vent late marks it this late at most, [s]. */
const latestMarkS = 30

/**
 * The last moment at which a section surely stood closed, seconds from the recording's start: a second before the vent's
 * mark, or before the fall itself where the mark came after it.
 */
export function lastUnderPressureS(signal: PressureSignal, stages: HoldStages): number {
  const { ventS, endS, spec } = stages
  if (ventS === null) return endS
  const holdS = stages.holdS ?? ventS
  const { timeS, gaugePa } = signal
  const backS = Math.max(holdS + 0.5 * (ventS - holdS), ventS - latestMarkS)
  const usual = signal.meanGauge(Math.max(holdS, backS - latestMarkS), backS)
  const last = firstIndexAt(timeS, ventS) - 1
  if (usual === null || last < 0) return ventS - 1
  const fallen = (i: number): boolean =>
    Math.abs(usual) - Math.abs(gaugePa[i]) > 0.15 * Math.abs(spec.pressurePa)
  if (!fallen(last)) return ventS - 1
  let i = last
  while (
    i > 0 &&
    timeS[i] > backS &&
    Math.abs(gaugePa[i]) < Math.abs(usual) - 0.01 * Math.abs(spec.pressurePa)
  )
    i--
  return Math.min(timeS[i], ventS) - 1
}
