import { z95 } from '#analysis/numeric/normal-distribution.ts'

/** A volume as stated, with the half width of its tolerance. */
export interface StatedVolume {
  readonly valueM3: number
  /** [m³] ≥ 0. */
  readonly halfWidthM3: number
}

export interface ClosedSum {
  readonly sumM3: number
  readonly totalM3: number | null
  /** Total less sum, [m³], and its standard uncertainty; null without a known total. */
  readonly differenceM3: number | null
  readonly stdDifferenceM3: number | null
  /** False when the difference is larger than 1.96 of its standard uncertainty. */
  readonly closes: boolean
  /** What a liter by the jug is in truth, and its relative standard uncertainty. */
  readonly factor: number
  readonly stdFactor: number
}

/**
 * Error of the measuring jug from the sum of all pours and a total that is known otherwise (weighed, or by a meter).
 *
 * The same jug errs the same way each time, so the errors of the pours add up fully: u(S) = Σ aᵢ/√3. Jug and total are
 * then two readings of one factor and are joined by their weights: f = (1/u_S² + (T/S)/u_T²)/(1/u_S² + 1/u_T²), with
 * both uncertainties relative to S.
 *
 * @param pours as stated, [m³]
 * @param total known otherwise, [m³]; null when there is none
 * Source: [jcgm-100] 4.3.7 (half width over √3) and 5.2 (fully correlated inputs)
 * Check: ten of 5 L ± 1 %, total 50.4 L ± 0.1 L → difference 0.4 L, u 0.294392 L, factor 1.00769231 (computed: the
 * weights are 12 and 300 per L², so f = 1 + 0.008·75/78)
 */
export function closeTheSum(pours: readonly StatedVolume[], total: StatedVolume | null): ClosedSum {
  const sumM3 = pours.reduce((sum, pour) => sum + pour.valueM3, 0)
  const stdSumM3 = pours.reduce((sum, pour) => sum + pour.halfWidthM3, 0) / Math.sqrt(3)
  const own = sumM3 > 0 ? stdSumM3 / sumM3 : 0
  const alone = {
    sumM3,
    totalM3: null,
    differenceM3: null,
    stdDifferenceM3: null,
    closes: true,
    factor: 1,
    stdFactor: own,
  }
  if (total === null || sumM3 <= 0) return alone
  const stdTotalM3 = total.halfWidthM3 / Math.sqrt(3)
  const differenceM3 = total.valueM3 - sumM3
  const stdDifferenceM3 = Math.hypot(stdSumM3, stdTotalM3)
  const other = stdTotalM3 / sumM3
  // An exact total settles the factor; an exact jug keeps it.
  const share = own === 0 && other === 0 ? 1 : own ** 2 / (own ** 2 + other ** 2)
  return {
    sumM3,
    totalM3: total.valueM3,
    differenceM3,
    stdDifferenceM3,
    closes: Math.abs(differenceM3) <= z95 * stdDifferenceM3 + 1e-12,
    factor: 1 + (share * differenceM3) / sumM3,
    stdFactor: own === 0 || other === 0 ? 0 : (own * other) / Math.hypot(own, other),
  }
}
