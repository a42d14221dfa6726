/** Each of the two slopes that are compared is taken over this time, [s]; less where the planned settle time is short. */
const spanS = 20
const leastSpanS = 5
/** The slopes may differ by this part of what the allowance loses a second. */
const toleratedPart = 0.25
/** What was judged even stays so until the slopes differ by this many times as much: no flicker at the limit. */
const releaseTimes = 2

/** How the pressure of a settling section runs; the page words it. */
export interface Settled {
  readonly ready: boolean
  /** Slope now and one span before, [Pa/s]; null while too few readings have come. */
  readonly nowPaPerS: number | null
  readonly beforePaPerS: number | null
}

/**
 * Whether a section has settled: its pressure falls evenly, so that the heat of pumping and the stretch of hoses no
 * longer bend the curve. It decides when a hold may start; the verdict does not rest on it.
 *
 * @param timeS since the start of settling, newest last, [s]; @param gaugePa of the same length, [Pa]
 * @param allowedPaPerS what the allowance loses a second, [Pa/s], > 0
 * @param settleS planned settle time, [s]; @param wasReady what was judged before
 */
export function settled(
  { timeS, gaugePa }: { readonly timeS: Float64Array; readonly gaugePa: Float64Array },
  allowedPaPerS: number,
  { settleS, wasReady }: { readonly settleS: number; readonly wasReady: boolean },
): Settled {
  const span = Math.max(leastSpanS, Math.min(spanS, settleS / 2))
  const endS = timeS.at(-1) ?? 0
  const isLongEnough = endS - (timeS[0] ?? 0) >= 1.8 * span
  const before = isLongEnough ? slope(timeS, gaugePa, endS - 2 * span, endS - span) : null
  const now = isLongEnough ? slope(timeS, gaugePa, endS - span, endS) : null
  if (!before || !now) return { ready: false, nowPaPerS: null, beforePaPerS: null }
  const bend = Math.abs(now.perS - before.perS)
  const noise = 3 * Math.hypot(now.std, before.std)
  const limit = Math.max(toleratedPart * allowedPaPerS, noise)
  return {
    ready: bend <= limit * (wasReady ? releaseTimes : 1),
    nowPaPerS: now.perS,
    beforePaPerS: before.perS,
  }
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
  if (count < 4) return null
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
