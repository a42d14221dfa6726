import type { ChannelSamples } from '#analysis/model/samples.ts'
import { firstIndexAt } from '#analysis/signal/block-averages.ts'
import type { MinMaxColumns } from '#dashboard/api.ts'
import { minMaxColumns } from '#ingest/recording/min-max-columns.ts'

/** The part of a channel between two times, as the extremes of at most `points` slices. */
export function sliceColumns(
  { channel, timeS, reading }: ChannelSamples,
  fromS: number,
  toS: number,
  points: number,
): MinMaxColumns {
  const first = firstIndexAt(timeS, fromS)
  const last = firstIndexAt(timeS, toS + 1e-9)
  const slices = minMaxColumns(timeS.subarray(first, last), reading.subarray(first, last), points)
  return {
    channel,
    timeS: Array.from(slices.timeS),
    low: Array.from(slices.low),
    high: Array.from(slices.high),
  }
}
