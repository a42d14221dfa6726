import type { PressureTrack } from '#analysis/signal/pressure-track.ts'

/** A pressure change made by an operator, impossible in enclosed gas. */
export interface OperatorDisturbance {
  /** Index on the track. */
  readonly at: number
  /** `rise`: pumped; `let-off`: a fall begins at once; `closed`: a fall or rise ends at once. */
  readonly kind: 'rise' | 'let-off' | 'closed'
}

/** Thresholds of rate and size, as shares of the stated pressure; own figures, above the effects of sun and doors on a tank. */
interface Reach {
  readonly risePerS: number
  readonly kinkPerS: number
  readonly stepUp: number
  readonly stepDown: number
}
const ofGas: Reach = { risePerS: 0.002, kinkPerS: 0.001, stepUp: 0.001, stepDown: 0.002 }
/** The pressure of a full line changes by whole atmospheres per kelvin. */
const ofLiquid: Reach = { risePerS: 0.02, kinkPerS: 0.01, stepUp: 0.02, stepDown: 0.02 }

/** Standard errors above which a change is not noise. */
const errors = 6
/** Over a short window, the fall of cooling gas keeps at least this share of its rate. */
const keptOfFall = 0.3
const shortS = 4
const longS = 16

/**
 * Finds pumping, topping up, bleeding and the vent in part of a track: rises, steps, and bends sharper than those of
 * cooling gas.
 *
 * @param from, to indices on the track, `to` included
 */
export function operatorDisturbances(
  track: PressureTrack,
  from: number,
  to: number,
  liquid: boolean,
): OperatorDisturbance[] {
  const { levelPa, timeS, spacingS, statedPa } = track
  const reach = liquid ? ofLiquid : ofGas
  const noisePa = track.noisePa(from, to)
  const out: OperatorDisturbance[] = []
  for (const spanS of [shortS, longS]) {
    const k = Math.max(3, Math.round(spanS / spacingS))
    const slopeNoise = (noisePa * Math.sqrt(12 / (k * (k + 1) * (k + 2)))) / spacingS
    const kink = Math.max(reach.kinkPerS * statedPa, errors * Math.SQRT2 * slopeNoise)
    const rise = Math.max(reach.risePerS * statedPa, errors * slopeNoise)
    const bends: { at: number; size: number; kind: 'let-off' | 'closed' }[] = []
    for (let i = from; i <= to; i++) {
      const before = slope(track, i - k, i)
      const after = slope(track, i, i + k)
      const across = slope(track, i - (k >> 1), i + (k >> 1))
      if (across !== null && across > rise) out.push({ at: i, kind: 'rise' })
      if (before === null || after === null) continue
      if (before - after > kink && after < 0) bends.push({ at: i, size: before - after, kind: 'let-off' })
      const endsFall = before < 0 && after > keptOfFall * before && after - before > kink
      if (spanS === shortS && endsFall) bends.push({ at: i, size: after - before, kind: 'closed' })
    }
    // Of overlapping bends, only the sharpest counts.
    for (const bend of bends)
      if (!bends.some((b) => b.kind === bend.kind && Math.abs(b.at - bend.at) <= k && b.size > bend.size))
        out.push({ at: bend.at, kind: bend.kind })
  }
  const up = Math.max(reach.stepUp * statedPa, errors * noisePa)
  const down = Math.max(reach.stepDown * statedPa, errors * noisePa)
  for (let i = from; i <= to; i++) {
    const step = stepAt(track, i)
    if (step === null) continue
    if (step > up) out.push({ at: i, kind: 'rise' })
    else if (-step > down) out.push({ at: i, kind: 'let-off' })
  }
  return out.sort((a, b) => a.at - b.at || timeS[a.at] - timeS[b.at] || levelPa[a.at] - levelPa[b.at])
}

/** Least-squares slope between two indices, [Pa/s]; null beyond the ends and across gaps. */
function slope({ timeS, levelPa, spacingS }: PressureTrack, from: number, to: number): number | null {
  if (from < 0 || to >= timeS.length || to - from < 2) return null
  if (timeS[to] - timeS[from] > 2 * (to - from) * spacingS) return null
  let sumS = 0
  let sum = 0
  for (let i = from; i <= to; i++) {
    sumS += timeS[i]
    sum += levelPa[i]
  }
  const n = to - from + 1
  const middleS = sumS / n
  const middle = sum / n
  let squares = 0
  let products = 0
  for (let i = from; i <= to; i++) {
    squares += (timeS[i] - middleS) ** 2
    products += (timeS[i] - middleS) * (levelPa[i] - middle)
  }
  return products / squares
}

/** Step of the level across an index, less the trend of the steeper of its two sides, [Pa]. */
function stepAt(track: PressureTrack, i: number): number | null {
  const { levelPa, timeS, spacingS } = track
  const reach = 8
  const before = slope(track, i - reach, i - 1)
  const after = slope(track, i + 1, i + reach)
  if (before === null || after === null) return null
  if (timeS[i + 3] - timeS[i - 3] > 8 * spacingS) return null
  const low = (levelPa[i - 3] + levelPa[i - 2] + levelPa[i - 1]) / 3
  const high = (levelPa[i + 1] + levelPa[i + 2] + levelPa[i + 3]) / 3
  const spanS = (timeS[i + 1] + timeS[i + 2] + timeS[i + 3] - timeS[i - 3] - timeS[i - 2] - timeS[i - 1]) / 3
  const change = high - low
  if (change > 0) return Math.max(0, change - Math.max(0, before, after) * spanS)
  return Math.min(0, change - Math.min(0, before, after) * spanS)
}
