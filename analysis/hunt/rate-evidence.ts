/** What measured sums say of one rate x, all else fixed: exp(pull·x − ½·hold·x²). */
export interface RateInformation {
  pull: number
  hold: number
}

/** log ∫ N(x; mean, std²)·exp(pull·x − ½·hold·x²) dx. */
export function logRateEvidence(pull: number, hold: number, mean: number, std: number): number {
  const prior = 1 / (std * std)
  const precision = prior + hold
  const center = (mean * prior + pull) / precision
  return 0.5 * (center * center * precision - mean * mean * prior - Math.log(precision / prior))
}

/**
 * The same for two rates seen together: exp(pullA·a + pullB·b − ½(holdA·a² + 2·cross·a·b + holdB·b²)).
 * Writes the posterior precision and center into `out` as [pAA, pAB, pBB, centerA, centerB].
 */
export function logPairEvidence(
  a: RateInformation,
  b: RateInformation,
  cross: number,
  meanA: number,
  stdA: number,
  meanB: number,
  stdB: number,
  out: Float64Array,
): number {
  const priorA = 1 / (stdA * stdA)
  const priorB = 1 / (stdB * stdB)
  const pAA = priorA + a.hold
  const pBB = priorB + b.hold
  const rightA = meanA * priorA + a.pull
  const rightB = meanB * priorB + b.pull
  const determinant = pAA * pBB - cross * cross
  const centerA = (pBB * rightA - cross * rightB) / determinant
  const centerB = (pAA * rightB - cross * rightA) / determinant
  out[0] = pAA
  out[1] = cross
  out[2] = pBB
  out[3] = centerA
  out[4] = centerB
  return (
    0.5 *
    (rightA * centerA +
      rightB * centerB -
      meanA * meanA * priorA -
      meanB * meanB * priorB -
      Math.log(determinant / (priorA * priorB)))
  )
}
