import type { Channel } from '#analysis/model/system.ts'

/**
 * Readings turned into true values by the channel's calibration: linear interpolation between its points, and
 * linear extrapolation beyond them. One point shifts the readings; none leaves them unchanged.
 *
 * @param reading SI, any length; NaN stays NaN
 */
export function calibratedReadings(channel: Channel, reading: Float64Array): Float64Array {
  const points = channel.calibration?.points ?? []
  if (points.length === 0) return reading
  if (points.length === 1) {
    const shift = points[0][0] - points[0][1]
    return reading.map((r) => r + shift)
  }
  return reading.map((r) => {
    let k = 1
    while (k + 1 < points.length && r > points[k][1]) k++
    const [trueLow, readLow] = points[k - 1]
    const [trueHigh, readHigh] = points[k]
    return trueLow + ((r - readLow) * (trueHigh - trueLow)) / (readHigh - readLow)
  })
}
