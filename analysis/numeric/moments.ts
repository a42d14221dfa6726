import { sampleVariance as plainVariance } from 'simple-statistics'

/** The library uses indexes only, so a typed column works like an array. */
function asArray(values: ArrayLike<number>): number[] {
  return values as number[]
}

/**
 * Arithmetic mean, by the compensated sum of Neumaier; the error of each step by the two-sum of Knuth, without a branch.
 *
 * @throws Error for an empty column
 * Check: [nist-strd] NumAcc1 to NumAcc4
 */
export function mean(values: ArrayLike<number>): number {
  const n = values.length
  if (n === 0) throw new Error('the mean of no values')
  let sum = values[0]
  let lost = 0
  for (let i = 1; i < n; i++) {
    const value = values[i]
    const next = sum + value
    const added = next - sum
    lost += sum - (next - added) + (value - added)
    sum = next
  }
  return (sum + lost) / n
}

/**
 * Sample standard deviation, divisor n − 1.
 *
 * @throws Error for fewer than two values
 * Check: [nist-strd] NumAcc1 to NumAcc4
 */
export function sampleStd(values: ArrayLike<number>): number {
  return Math.sqrt(plainVariance(asArray(values)))
}

/**
 * Correlation of each value with the next one, Σ(yᵢ−ȳ)(yᵢ₊₁−ȳ)/Σ(yᵢ−ȳ)².
 *
 * @returns 0 when all values are equal
 * Check: [nist-strd] NumAcc1 to NumAcc4
 */
export function lagOneCorrelation(values: ArrayLike<number>): number {
  const center = mean(values)
  let products = 0
  let squares = 0
  for (let i = 0; i < values.length; i++) {
    const deviation = values[i] - center
    squares += deviation * deviation
    if (i > 0) products += deviation * (values[i - 1] - center)
  }
  return squares === 0 ? 0 : products / squares
}
