import type { HoldSpec } from '#analysis/model/system.ts'
import { straightLine } from '#analysis/numeric/straight-line.ts'
import type { PressureSignal } from '#analysis/signal/pressure-signal.ts'
import { type PressureTrack, pressureTrack } from '#analysis/signal/pressure-track.ts'
import { type OperatorDisturbance, operatorDisturbances } from './operator-disturbances.ts'

/** Shares of the stated pressure above which an interval under pressure begins, and below which it ends. */
const underShare = 0.5
const overShare = 0.1
/** A hold begins with at least this share of the stated pressure. */
const heldShare = 0.8
/** The last quiet part that lasted this share of the stated hold is the hold; else the longest is. */
const holdShare = 0.5
/** Stability of a regulator, as a share of the stated pressure. */
const plateauShare = 0.002

/**
 * Finds the intervals under pressure and, in each, the undisturbed part: from the last pumping, topping up or bleeding to
 * the vent.
 */
export function cyclesInPressure(signal: PressureSignal, spec: HoldSpec, liquid = false) {
  const track = pressureTrack(signal, spec)
  const { timeS } = track
  const shortestS = Math.max(10, 0.05 * spec.holdS)
  const found = stretches(track).flatMap(({ rise, from, to }) => {
    if (timeS[to] - timeS[from] < shortestS) return []
    const hands = operatorDisturbances(track, from, to, liquid)
    return [{ rise, from, ...quietPart(track, { rise, from, to }, hands, spec) }]
  })
  return found.map((cycle, i) => {
    const next = found[i + 1]
    return {
      /** When the pressure began to rise; null when the recording begins under pressure. */
      pumpUpS: cycle.from === 0 ? null : timeS[cycle.rise],
      /** Start of the undisturbed part. */
      pumpedS: timeS[cycle.first],
      /** Null when not seen. */
      ventS: cycle.ventS,
      /** Start of the next pump-up, or end of the recording. */
      endS: cycle.pumpedAgainS ?? (next === undefined ? timeS[timeS.length - 1] : timeS[next.rise]),
    }
  })
}

/** One interval under pressure, found from the pressure alone, [s]. */
export type PressureCycle = Readonly<ReturnType<typeof cyclesInPressure>[number]>

/** Intervals under pressure: the last index at rest before each, its first and its last. */
function stretches({ levelPa, statedPa, timeS }: PressureTrack) {
  const out: { rise: number; from: number; to: number }[] = []
  let before = 0
  for (let i = 0; i < levelPa.length; i++) {
    if (!(levelPa[i] > underShare * statedPa)) continue
    const from = i
    while (i + 1 < levelPa.length && levelPa[i + 1] > overShare * statedPa) i++
    out.push({ rise: riseOf({ levelPa, statedPa, timeS }, before, from), from, to: i })
    before = i + 1
  }
  return out
}

/** Longest look back for the level at rest, [s]. */
const lookBackS = 600

/** Last index at the level of rest before the pressure rise. */
function riseOf(
  { levelPa, statedPa, timeS }: Pick<PressureTrack, 'levelPa' | 'statedPa' | 'timeS'>,
  before: number,
  from: number,
): number {
  let first = from
  while (first > before && timeS[from] - timeS[first - 1] < lookBackS) first--
  const rest = Float64Array.from(levelPa.subarray(first, from)).sort()
  const lowest = rest[Math.floor(rest.length * 0.1)] ?? levelPa[from]
  let rise = from
  while (rise > first && levelPa[rise] > lowest + 0.01 * statedPa) rise--
  return rise
}

/** First index, time of the vent, and time of another pump-up without a vent; null without one. */
function quietPart(
  track: PressureTrack,
  { rise, from, to }: ReturnType<typeof stretches>[number],
  hands: readonly OperatorDisturbance[],
  spec: HoldSpec,
) {
  const { timeS, levelPa, statedPa } = track
  const edges: OperatorDisturbance[] = [{ at: from, kind: 'rise' }, ...hands]
  const parts = edges.map((edge, i) => {
    const until = edges[i + 1]?.at ?? to
    return { first: edge.at, last: until, next: edges[i + 1] ?? null, seconds: timeS[until] - timeS[edge.at] }
  })
  const high = parts.filter(({ first }) => levelPa[first] > heldShare * statedPa)
  const usable = high.length > 0 ? high : parts
  const longest = usable.reduce((a, b) => (b.seconds > a.seconds ? b : a))
  const chosen = usable.findLast(({ seconds }) => seconds >= holdShare * spec.holdS) ?? longest
  const { next, last } = chosen
  const first = Math.min(supplyOff(track, chosen.first, last, timeS[from] - timeS[rise]), last)
  if (next === null) {
    // No vent was seen: the pressure leaked away, or the recording ends under pressure.
    const gone = to + 1 < levelPa.length && levelPa[to] - levelPa[to + 1] > 0.1 * statedPa
    return { first, ventS: gone ? timeS[to] : null, pumpedAgainS: null }
  }
  const pumpedAgain = { first, ventS: null, pumpedAgainS: timeS[last] }
  if (next.kind === 'rise') return pumpedAgain
  const off = letOffAt(track, first, last)
  // A step down to a steady level is a valve or a cock, not a vent.
  return goesOn(track, off) ? { first, ventS: timeS[off], pumpedAgainS: null } : pumpedAgain
}

/** A vent releases this share of the stated pressure within this time, [s]. Own figures. */
const ventShare = 0.15
const ventWithinS = 120
/** A fall that stops below this share is a step. Own figure. */
const steppedShare = 0.3

/** Whether a fall continues like a vent. */
function goesOn({ levelPa, timeS, statedPa, spacingS }: PressureTrack, at: number): boolean {
  const before = levelPa[at]
  const soon = levelPa[Math.min(levelPa.length - 1, at + Math.max(3, Math.round(4 / spacingS)))]
  const then = levelPa[Math.min(levelPa.length - 1, at + Math.max(6, Math.round(12 / spacingS)))]
  if (before - soon < steppedShare * before && Math.abs(soon - then) < 0.2 * (before - soon)) return false
  for (let i = at; i < levelPa.length && timeS[i] - timeS[at] < ventWithinS; i++)
    if (before - levelPa[i] > ventShare * statedPa) return true
  return false
}

/**
 * Index at which the supply was disconnected: the end of a regulator's plateau, if the pressure then falls like that of
 * cooling gas; otherwise the beginning of the plateau.
 */
function supplyOff(track: PressureTrack, first: number, last: number, riseS: number): number {
  const { timeS, statedPa, spacingS } = track
  const untilS = timeS[first] + Math.max(30, 6 * riseS)
  const noisePa = track.noisePa(first, last)
  // Average the noise until it resolves the plateau to a share of the stated pressure.
  const half = Math.min(10, Math.ceil(((3 * noisePa) / (plateauShare * statedPa)) ** 2)) >> 1
  const level = (i: number): number => meanAround(track, i, Math.min(half, i - first), last)
  let top = first
  let until = first
  for (let i = first; i <= last && timeS[i] <= untilS; i++) {
    if (level(i) > level(top)) top = i
    until = i
  }
  const near = level(top) - Math.max(plateauShare * statedPa, (3 * noisePa) / Math.sqrt(2 * half + 1))
  let off = top
  while (off < until && (level(off + 1) >= near || level(off + 2) >= near)) off++
  const some = Math.min(last - until, Math.max(10, Math.round(10 / spacingS)))
  return off < until && meanAround(track, until + (some >> 1), some >> 1, last) < near ? off : first
}

function meanAround({ levelPa }: PressureTrack, i: number, half: number, last: number): number {
  const reach = Math.max(0, Math.min(half, last - i))
  let sum = 0
  for (let k = i - reach; k <= i + reach; k++) sum += levelPa[Math.min(k, last)]
  return sum / (2 * reach + 1)
}

/** The last index before a manual release near an index. */
export function letOffAt(track: PressureTrack, first: number, near: number): number {
  const { levelPa, timeS, spacingS, statedPa } = track
  const back = Math.max(3, Math.round(8 / spacingS))
  const end = Math.max(first, near - back)
  const start = Math.max(first, end - Math.max(10, Math.round(30 / spacingS)))
  if (end - start < 3) return Math.max(first, near - 1)
  const { slope, meanX, meanY } = straightLine(
    timeS.subarray(start, end + 1),
    levelPa.subarray(start, end + 1),
  )
  const noisePa = track.noisePa(start, end)
  const fallen = Math.max(5 * noisePa, 0.0005 * statedPa)
  let at = Math.min(levelPa.length - 1, near + back)
  const expected = (i: number) => meanY + slope * (timeS[i] - meanX)
  while (at > end && levelPa[at] < expected(at) - fallen) at--
  return at
}
