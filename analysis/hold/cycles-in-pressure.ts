import type { HoldSpec } from '#analysis/model/system.ts'
import type { PressureSignal } from './pressure-signal.ts'

/** One stretch under pressure, found from the pressure alone, [s]. */
export interface PressureCycle {
  /** When the pressure began to rise; null when the recording begins under pressure. */
  readonly pumpUpS: number | null
  /** When it stopped rising. */
  readonly pumpedS: number
  /** When it was let off; null when the recording ends under pressure. */
  readonly ventS: number | null
  readonly endS: number
}

/**
 * Finds the stretches in which the gauge stood above half the stated pressure for long enough to be a hold.
 *
 * Pump-up ends at the highest reading soon after the pressure has arrived (the gas is hottest then); the vent begins
 * where the fast fall at the end starts. A suction hold is looked at upside down.
 */
export function cyclesInPressure(signal: PressureSignal, spec: HoldSpec): PressureCycle[] {
  const { timeS } = signal
  const sign = spec.pressurePa < 0 ? -1 : 1
  const level = signal.gaugePa.map((p) => sign * p)
  const stated = Math.abs(spec.pressurePa)
  const out: PressureCycle[] = []
  const shortestS = Math.max(10, 0.05 * spec.holdS)
  let i = 0
  while (i < level.length) {
    if (!(level[i] > 0.5 * stated)) {
      i++
      continue
    }
    const from = i
    // A dip of a sample or two is a spike, not a vent.
    while (
      i < level.length &&
      (level[i] > 0.5 * stated || level[i + 1] > 0.5 * stated || level[i + 2] > 0.5 * stated)
    )
      i++
    const to = Math.min(i, level.length) - 1
    if (timeS[to] - timeS[from] < shortestS) continue
    let start = from
    while (start > 0 && level[start - 1] > 0.03 * stated && level[start - 1] <= level[start] + 0.02 * stated)
      start--
    const beganUnder = start === 0
    const riseS = timeS[from] - timeS[start]
    const top = endOfPumping(timeS, level, from, to, timeS[from] + Math.max(30, 6 * riseS), stated)
    const vented = to < level.length - 1
    let vent = to
    if (vented) {
      // Back from the crossing to where the fall was no faster than in the hold.
      const before = Math.max(top, to - 400)
      const usual = usualLevel(level, Math.max(top, to - 60), Math.max(top, to - 10))
      while (vent > before && level[vent] < 0.985 * usual) vent--
      vent = Math.max(top, vent - 1)
    }
    const endOf = vented ? nextRise(level, to + 1, stated) : level.length - 1
    out.push({
      pumpUpS: beganUnder ? null : timeS[start],
      pumpedS: timeS[top],
      ventS: vented ? timeS[vent] : null,
      endS: timeS[endOf],
    })
  }
  return out
}

/**
 * Index at which the supply was taken off: the end of the plateau where the pressure falls from it, as hot gas makes it do;
 * its beginning where it does not.
 */
function endOfPumping(
  timeS: Float64Array,
  level: Float64Array,
  from: number,
  to: number,
  withinS: number,
  stated: number,
): number {
  let top = from
  let until = from
  for (let k = from; k <= to && timeS[k] <= withinS; k++) {
    if (level[k] > level[top]) top = k
    until = k
  }
  const near = level[top] - Math.max(0.002 * stated, 3 * typicalStep(level, from, to))
  let first = top
  while (first > from && level[first - 1] >= near) first--
  let last = top
  while (last < until && (level[last + 1] >= near || (level[last + 2] ?? 0) >= near)) last++
  const later = usualLevel(level, until, Math.min(to, until + Math.max(10, until - from)))
  return later < near && last < until ? last : first
}

/** Median difference of neighbours: the size of the noise. */
function typicalStep(level: Float64Array, from: number, to: number): number {
  const steps: number[] = []
  const stride = Math.max(1, Math.floor((to - from) / 1000))
  for (let i = from + 1; i <= to; i += stride) steps.push(Math.abs(level[i] - level[i - 1]))
  return steps.sort((a, b) => a - b)[steps.length >> 1] ?? 0
}

function usualLevel(level: Float64Array, from: number, to: number): number {
  const part = level.slice(from, to + 1).sort()
  return part[part.length >> 1]
}

/** Last index before the pressure rises again. */
function nextRise(level: Float64Array, from: number, stated: number): number {
  for (let i = from + 1; i < level.length; i++)
    if (level[i] > 0.2 * stated && level[i] > level[i - 1] + 0.02 * stated) return i - 1
  return level.length - 1
}
