import { incompleteBeta } from './incomplete-beta.ts'

/**
 * Probability that Fisher's F exceeds a value.
 *
 * @param f value, ≥ 0
 * @param numerator degrees of freedom of the numerator, > 0
 * @param denominator degrees of freedom of the denominator, > 0
 * Source: [dlmf] 8.17 through I_x(d₂/2, d₁/2), x = d₂/(d₂ + d₁F)
 */
export function fUpperTail(f: number, numerator: number, denominator: number): number {
  if (f <= 0) return 1
  const scale = denominator + numerator * f
  return incompleteBeta(denominator / scale, denominator / 2, numerator / 2, (numerator * f) / scale)
}
