import type { Estimate } from '#analysis/model/hold-result.ts'
import { z95 } from './normal-distribution.ts'

/** A normal figure with its 95 % interval. */
export function estimateOf(value: number, std: number): Estimate {
  return { value, low: value - z95 * std, high: value + z95 * std }
}

/** Standard uncertainty of a 95 % interval, assumed normal. */
export function stdOf({ low, high }: Pick<Estimate, 'low' | 'high'>): number {
  return (high - low) / (2 * z95)
}

/** An estimate in another unit, or over another time. */
export function times({ value, low, high }: Estimate, factor: number): Estimate {
  return { value: value * factor, low: low * factor, high: high * factor }
}
