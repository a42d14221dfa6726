/**
 * How many significant digits a computed value shares with a certified one: −log₁₀ of the relative error, or of the
 * error itself where the certified value is zero ([nist-strd], log relative error).
 */
export function significantDigits(computed: number, certified: number): number {
  if (computed === certified) return 16
  const error = certified === 0 ? Math.abs(computed) : Math.abs(computed - certified) / Math.abs(certified)
  return Math.min(16, -Math.log10(error))
}
