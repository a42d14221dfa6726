/** A size of noise that a fit tries, with the belief in it. */
export interface NoiseRung {
  /** Factor on the variance of the white noise as it was read. */
  readonly whiteScale: number
  /** Random walk of the sensor over the whole span, in units of one block's white noise. */
  readonly walkSize: number
  readonly weight: number
}

/** White noise may be larger than neighbours show: the belief in each factor on its variance. */
const whites: readonly (readonly [scale: number, weight: number])[] = [
  [1, 0.6],
  [2.5, 0.3],
  [8, 0.1],
]

/** Every pair of white noise and of a walk out of `walks`, a size and the belief in it. */
export function noiseLadder(walks: readonly (readonly [size: number, weight: number])[]): NoiseRung[] {
  return walks.flatMap(([walkSize, walkWeight]) =>
    whites.map(([whiteScale, weight]) => ({
      whiteScale,
      walkSize,
      weight: walkWeight * weight,
    })),
  )
}

/** Variance each second of a walk as large over the span as one middling block's white noise. */
export function walkUnitPerS(variance: Float64Array, spanS: number): number {
  return Float64Array.from(variance).sort()[variance.length >> 1] / spanS
}
