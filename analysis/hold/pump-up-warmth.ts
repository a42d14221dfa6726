import type { HoldStages } from './hold-stages.ts'
import { mean, sliceOf } from './sample-slice.ts'
import type { Kelvins } from './section-temperature.ts'

/**
 * How far the thermometer rose from before pump-up to just after it, over the rise of an adiabatic pump-up; under suction
 * how far it fell. A recording that begins under pressure is judged by how far the thermometer went back instead.
 */
export function pumpUpWarmth(
  { timeS, kelvin }: Kelvins,
  stages: HoldStages,
  startS: number,
  untilS: number,
  relativePressure: number,
): number {
  const fromS = stages.pumpUpS ?? startS
  const before =
    (stages.pumpUpS === null ? null : meanBetween(timeS, kelvin, fromS - 60, fromS)) ??
    meanBetween(timeS, kelvin, untilS - 0.2 * (untilS - startS), untilS)
  if (before === null) return 0
  const sign = relativePressure < 0 ? -1 : 1
  let furthest = 0
  for (let atS = fromS; atS < startS + 60; atS += 8) {
    const level = meanBetween(timeS, kelvin, atS, atS + 8)
    if (level !== null) furthest = Math.max(furthest, sign * (level - before))
  }
  return furthest / ((2 / 7) * Math.abs(relativePressure) * before)
}

function meanBetween(timeS: Float64Array, values: Float64Array, fromS: number, toS: number): number | null {
  const seen = sliceOf(timeS, values, fromS, toS).filter((v) => !Number.isNaN(v))
  return seen.length > 0 ? mean(seen) : null
}
