import { firstIndexAt } from '#analysis/signal/block-averages.ts'
import type { PressureSignal } from '#analysis/signal/pressure-signal.ts'
import type { HoldStages } from '#analysis/stages/stages-from-pressure.ts'

/** When the fit may begin: after settle was marked and the pressure has stopped rising. */
export function quietStartS(signal: PressureSignal, stages: HoldStages, untilS: number): number {
  const holdS = stages.holdS as number
  const markedS = stages.settleS ?? holdS
  const sign = stages.spec.pressurePa < 0 ? -1 : 1
  // Whoever marks a little early is still pumping: begin at the peak of the first fifth.
  const lookS = Math.max(
    Math.min(markedS + 0.2 * (untilS - markedS), Math.max(holdS, markedS + 5)),
    markedS + 1,
  )
  let peakS = markedS
  let peak = Number.NEGATIVE_INFINITY
  const from = firstIndexAt(signal.timeS, markedS)
  let first = Number.NaN
  for (let i = from; i < signal.timeS.length && signal.timeS[i] <= lookS; i++) {
    const level = sign * signal.gaugePa[i]
    if (Number.isNaN(first)) first = level
    if (level > peak) {
      peak = level
      peakS = signal.timeS[i]
    }
  }
  const rose = peak - first > 0.01 * Math.abs(stages.spec.pressurePa)
  return (rose ? peakS : markedS) + 1
}
