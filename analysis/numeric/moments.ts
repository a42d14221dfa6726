import { mean as compensatedMean } from 'simple-statistics'

/** Arithmetic mean by plain addition, for readings; NaN of nothing. */
export function mean(values: ArrayLike<number>): number {
  let sum = 0
  for (let i = 0; i < values.length; i++) sum += values[i]
  return sum / values.length
}

/**
 * Correlation of each value with the next one, Σ(yᵢ−ȳ)(yᵢ₊₁−ȳ)/Σ(yᵢ−ȳ)².
 *
 * @returns 0 when all values are equal
 * Check: [nist-strd] NumAcc1 to NumAcc4
 */
export function lagOneCorrelation(values: number[]): number {
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
