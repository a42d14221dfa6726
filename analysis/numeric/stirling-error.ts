const LN_SQRT_2PI = 0.9189385332046728

/** Lanczos coefficients, g = 607/128, n = 15: relative error below 1e-15 on the positive axis. */
const LANCZOS = [
  0.9999999999999971, 57.15623566586292, -59.59796035547549, 14.136097974741746, -0.4919138160976202,
  3.399464998481189e-5, 4.652362892704858e-5, -9.837447530487956e-5, 0.0001580887032249125,
  -0.00021026444172410488, 0.00021743961811521265, -0.0001643181065367639, 8.441822398385275e-5,
  -2.6190838401581408e-5, 3.6899182659531625e-6,
]

/**
 * Natural logarithm of the gamma function.
 *
 * @param x argument, > 0
 * Source: [lanczos-1964], coefficients as in common use; Stirling's series above 15
 */
export function logGamma(x: number): number {
  if (!(x > 0)) throw new RangeError('logGamma needs an argument above zero')
  if (x < 0.5) return logGamma(x + 1) - Math.log(x)
  if (x > 15) return (x - 0.5) * Math.log(x) - x + LN_SQRT_2PI + stirlingSeries(x)
  let series = LANCZOS[0]
  for (let k = 1; k < LANCZOS.length; k++) series += LANCZOS[k] / (x + k - 1)
  const shifted = x + 607 / 128 - 0.5
  return LN_SQRT_2PI + Math.log(series) - shifted + (x - 0.5) * Math.log(shifted)
}

function stirlingSeries(x: number): number {
  const inverse = 1 / (x * x)
  return (
    (1 / 12 -
      (1 / 360 -
        (1 / 1260 - (1 / 1680 - (1 / 1188 - (691 / 360360 - inverse / 156) * inverse) * inverse) * inverse) *
          inverse) *
        inverse) /
    x
  )
}

/**
 * What Stirling's formula leaves out of ln Γ(x + 1): ln x! − [½ ln(2πx) + x ln x − x].
 *
 * Differences of log-gammas lose digits when the arguments are large; written with this small remainder they do not.
 *
 * @param x argument, > 0
 * Source: [loader-2000]
 */
export function stirlingError(x: number): number {
  if (x > 15) return stirlingSeries(x)
  return logGamma(x + 1) - (x + 0.5) * Math.log(x) + x - LN_SQRT_2PI
}

/**
 * Deviance part x ln(x/m) + m − x without cancellation when x is near m.
 *
 * Source: [loader-2000]
 */
export function deviance(x: number, m: number): number {
  const gap = (x - m) / (x + m)
  if (Math.abs(gap) < 0.1) {
    let total = (x - m) * gap
    let term = 2 * x * gap
    for (let j = 1; j < 1000; j++) {
      term *= gap * gap
      const next = total + term / (2 * j + 1)
      if (next === total) return total
      total = next
    }
  }
  return x * Math.log(x / m) + m - x
}
