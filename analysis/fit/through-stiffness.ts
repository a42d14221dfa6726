import type { GasRows } from './gas-columns.ts'
import { stiffnessOf } from './gas-priors.ts'

/** d ln p / d ln n in each row for a stretch κ: 1 for a rigid volume, less for one that breathes. */
export function stiffnessColumn(rows: GasRows, stretchPerPa: number): Float64Array {
  return rows.absolutePa.map((p, i) => stiffnessOf(stretchPerPa, p, rows.gaugePa[i]))
}

/** Σ s·Δf: what a change of ln n or ln T does to ln p as the stiffness s changes on the way; `out` may be `column` itself. */
export function throughStiffness(
  stiffness: Float64Array,
  column: Float64Array,
  out: Float64Array,
): Float64Array {
  let before = column[0]
  out[0] = stiffness[0] * before
  for (let i = 1; i < out.length; i++) {
    const here = column[i]
    out[i] = out[i - 1] + 0.5 * (stiffness[i] + stiffness[i - 1]) * (here - before)
    before = here
  }
  return out
}

/**
 * White variance of the response: a volume of stiffness s feels the share 1 − s of the atmosphere's changes, which is taken off
 * with the barometer's noise, so that of the noise in a gauge's absolute pressure the share s is left.
 */
export function responseVariance(rows: GasRows, stiffness: Float64Array): Float64Array {
  const { variance, weatherVariance, absolute } = rows
  return variance.map((v, i) => {
    const s = stiffness[i]
    return v + weatherVariance[i] * (absolute ? (1 - s) ** 2 : s ** 2 - 1)
  })
}
