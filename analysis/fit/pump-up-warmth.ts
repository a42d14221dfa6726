import { lineThrough } from '#analysis/signal/line-through.ts'
import { mean, sliceOf } from '#analysis/signal/sample-slice.ts'
import type { Kelvins } from '#analysis/signal/section-temperature.ts'
import type { HoldStages } from '#analysis/stages/stages-from-pressure.ts'

/** What a thermometer shows of the heat of pumping. */
export interface PumpUpWarmth {
  /** Its rise over that of an adiabatic pump-up; under suction how far it fell. */
  readonly share: number
  /** Whether it was read before pump-up; else its way back was looked at, which a room that warms and cools resembles. */
  readonly seen: boolean
}

/** Part of a recording that begins under pressure whose straight trend is taken for the room's: the last three fifths. */
const trendShare = 0.4

/**
 * How far the thermometer rose from before pump-up to just after it. A recording that begins under pressure is judged by how
 * far the thermometer begins off the trend of the room.
 */
export function pumpUpWarmth(
  { timeS, kelvin }: Kelvins,
  stages: HoldStages,
  startS: number,
  untilS: number,
  relativePressure: number,
): PumpUpWarmth {
  const fromS = stages.pumpUpS ?? startS
  const before = stages.pumpUpS === null ? null : meanBetween(timeS, kelvin, fromS - 60, fromS)
  const trend =
    before === null
      ? lineThrough(timeS, kelvin, startS + trendShare * (untilS - startS), untilS, startS)
      : { perS: 0, atEnd: before }
  if (trend === null) return { share: 0, seen: false }
  const room = (atS: number): number => trend.atEnd + trend.perS * (atS - startS)
  const sign = relativePressure < 0 ? -1 : 1
  let furthest = 0
  for (let atS = fromS; atS < startS + 60; atS += 8) {
    const level = meanBetween(timeS, kelvin, atS, atS + 8)
    if (level !== null) furthest = Math.max(furthest, sign * (level - room(atS + 4)))
  }
  return { share: furthest / ((2 / 7) * Math.abs(relativePressure) * room(fromS)), seen: before !== null }
}

function meanBetween(timeS: Float64Array, values: Float64Array, fromS: number, toS: number): number | null {
  const seen = sliceOf(timeS, values, fromS, toS).filter((v) => !Number.isNaN(v))
  return seen.length > 0 ? mean(seen) : null
}
