import { calibratedReadings } from '#analysis/signal/calibrated-readings.ts'
import { bench, system } from './bench.ts'

/** A live reading put right by the channel's calibration, as the analysis does it; unknown channels as they are. */
export function trueReading(id: string, reading: number): number {
  const channel = system.value?.channels.find((one) => one.id === id)
  return channel?.calibration ? calibratedReadings(channel, Float64Array.of(reading))[0] : reading
}

/** For how long a channel that once gave readings has given none, [s]; null while they come. */
export const quietFor = (channel: string): number | null => bench.value?.newest[channel]?.quietS ?? null
