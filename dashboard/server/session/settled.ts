/** Each of the two slopes that are compared is taken over this time, [s]. */
const spanS = 20
/** The slopes may differ by this part of what the allowance loses a second. */
const toleratedPart = 0.25

export interface Settled {
  readonly ready: boolean
  readonly message: string
}

/**
 * Whether a section has settled: its pressure falls evenly, so that the heat of pumping and the stretch of hoses no
 * longer bend the curve. Advice for the operator; the verdict does not rest on it.
 *
 * @param timeS newest last, [s]; @param gaugePa of the same length, [Pa]
 * @param allowedPaPerS what the allowance loses a second, [Pa/s], > 0
 */
export function settled(timeS: Float64Array, gaugePa: Float64Array, allowedPaPerS: number): Settled {
  const endS = timeS.at(-1) ?? 0
  const before = slope(timeS, gaugePa, endS - 2 * spanS, endS - spanS)
  const now = slope(timeS, gaugePa, endS - spanS, endS)
  if (!before || !now) return { ready: false, message: 'Wait: half a minute of readings is needed to judge.' }
  const bend = Math.abs(now.perS - before.perS)
  const noise = 3 * Math.hypot(now.std, before.std)
  if (bend <= Math.max(toleratedPart * allowedPaPerS, noise)) {
    return { ready: true, message: 'The pressure runs evenly: the hold may begin.' }
  }
  const way = now.perS < before.perS ? 'falls faster and faster' : 'still falls more slowly every second'
  return { ready: false, message: `The pressure ${way}: wait until it runs evenly.` }
}

function slope(timeS: Float64Array, value: Float64Array, fromS: number, toS: number) {
  let count = 0
  let sumT = 0
  let sumV = 0
  for (let index = timeS.length - 1; index >= 0 && timeS[index] > fromS; index--) {
    if (timeS[index] > toS) continue
    count++
    sumT += timeS[index]
    sumV += value[index]
  }
  if (count < 5) return null
  const meanT = sumT / count
  const meanV = sumV / count
  let products = 0
  let squares = 0
  let residues = 0
  for (let index = timeS.length - 1; index >= 0 && timeS[index] > fromS; index--) {
    if (timeS[index] > toS) continue
    const t = timeS[index] - meanT
    const v = value[index] - meanV
    products += t * v
    squares += t * t
    residues += v * v
  }
  if (squares === 0) return null
  const perS = products / squares
  const variance = Math.max(0, residues - perS * products) / Math.max(1, count - 2)
  return { perS, std: Math.sqrt(variance / squares) }
}
