import { mean as libraryMean, sampleStandardDeviation } from 'simple-statistics'

/** The library uses indexes only, so a typed column works like an array. */
function asArray(values: ArrayLike<number>): number[] {
  return values as number[]
}

/** Arithmetic mean by plain addition, for readings; NaN of nothing. */
export function mean(values: ArrayLike<number>): number {
  let sum = 0
  for (let i = 0; i < values.length; i++) sum += values[i]
  return sum / values.length
}

/**
 * Arithmetic mean by a compensated sum, for published figures.
 *
 * @throws Error for an empty column
 * Check: [nist-strd] NumAcc1 to NumAcc4
 */
export function compensatedMean(values: ArrayLike<number>): number {
  return libraryMean(asArray(values))
}

/**
 * Sample standard deviation, divisor n − 1.
 *
 * @throws Error for fewer than two values
 * Check: [nist-strd] NumAcc1 to NumAcc4
 */
export function sampleStd(values: ArrayLike<number>): number {
  return sampleStandardDeviation(asArray(values))
}

/**
 * Correlation of each value with the next one, Σ(yᵢ−ȳ)(yᵢ₊₁−ȳ)/Σ(yᵢ−ȳ)².
 *
 * @returns 0 when all values are equal
 * Check: [nist-strd] NumAcc1 to NumAcc4
 */
export function lagOneCorrelation(values: ArrayLike<number>): number {
  const center = compensatedMean(values)
  let products = 0
  let squares = 0
  for (let i = 0; i < values.length; i++) {
    const deviation = values[i] - center
    squares += deviation * deviation
    if (i > 0) products += deviation * (values[i - 1] - center)
  }
  return squares === 0 ? 0 : products / squares
}
