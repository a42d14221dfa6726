import type { Section } from '#analysis/model/system.ts'
import type { ClosedSum } from './close-the-sum.ts'
import type { Fill } from './fill-marks.ts'
import type { Attitude, Direction, LevelResult, RejectedPoint } from './level-result.ts'
import type { WeighedReason } from './worst-verdict.ts'

const liters = 1e3
/** Points left out one by one, over all points, above which the rest is not trusted. Own figure. */
const mostRejected = 0.15
/** A sender that moves less than this share of its mean over a stretch stands still there. Own figure. */
const stillShare = 0.15
/** A stretch this long, over the full tank, is looked at. Own figure. */
const stretchShare = 0.1
/** Error of the loop that jugs and readings explain, over the full tank. Own figure. */
const loopShare = 0.02

/**
 * Whether the sender and the marks are sound, whatever the curve says: no place where both directions had to be left out,
 * no stretch where it stands still, few points left out, and a reading that returns when what was poured in is drained.
 */
export function soundnessReasons(facts: LevelFacts): WeighedReason[] {
  return [
    ...rejectedBothWays(facts),
    ...standsStill(facts),
    ...manyRejected(facts),
    ...facts.runs.flatMap((run) => loopReasons(run, facts)),
    ...widthReasons(facts),
  ]
}

function reason(weight: WeighedReason['weight'], code: string, message: string): WeighedReason {
  return { weight, code, message }
}

/** A float that hangs once is one point in one direction; what comes back in both is the sender. */
function rejectedBothWays({ rejected, usable_full_L }: LevelFacts): WeighedReason[] {
  const near = 0.5 * stretchShare * (usable_full_L ?? 0)
  const reversals = rejected.filter((r) => r.code === 'reversal')
  const twice = reversals.filter((r) =>
    reversals.some(
      (o) =>
        o.direction !== r.direction && o.attitude === r.attitude && Math.abs(o.usable_L - r.usable_L) <= near,
    ),
  )
  if (twice.length === 0) return []
  const [low, high] = boundsOf(twice.map((r) => r.usable_L))
  return [
    reason(
      'fail',
      'sender-broken',
      `Between ${low} and ${high} L the reading goes back in both directions: the sender is broken there. Replace it and calibrate again.`,
    ),
  ]
}

/** A stretch, away from the top, where the reading does not move although the fuel does. */
function standsStill({ runs, usable_full_L, reads_up_to_L }: LevelFacts): WeighedReason[] {
  const fullL = usable_full_L ?? 0
  const still = new Map<TakenPoint['direction'], number[]>()
  for (const run of runs)
    for (const direction of ['up', 'down'] as const) {
      const points = run.points
        .filter((p) => p.direction === direction && p.attitude === 'level')
        .filter((p) => reads_up_to_L === null || p.usableM3 * liters <= reads_up_to_L)
        .sort((a, b) => a.usableM3 - b.usableM3)
      if (points.length < 5) continue
      const all = Math.abs(points[points.length - 1].reading - points[0].reading)
      const mean = all / (points[points.length - 1].usableM3 - points[0].usableM3)
      for (let i = 0; i + 2 < points.length; i++) {
        const end = points.findIndex(
          (p, j) => j >= i + 2 && (p.usableM3 - points[i].usableM3) * liters >= stretchShare * fullL,
        )
        if (end < 0) continue
        const stretch = points.slice(i, end + 1)
        const readings = stretch.map((p) => p.reading)
        const moved = Math.max(...readings) - Math.min(...readings)
        const expected = mean * (points[end].usableM3 - points[i].usableM3)
        const noise = 6 * Math.max(...stretch.map((p) => p.std))
        if (moved < stillShare * expected + Math.min(noise, 0.1 * expected))
          still.set(direction, [...(still.get(direction) ?? []), ...stretch.map((p) => p.usableM3 * liters)])
      }
    }
  if (still.size === 0) return []
  const [low, high] = boundsOf([...still.values()].flat())
  return [
    reason(
      still.size > 1 ? 'fail' : 'undecided',
      'sender-stuck',
      `Between ${low} and ${high} L the reading stands still although the fuel goes on: the sender sticks there. Free or replace it and calibrate again.`,
    ),
  ]
}

function manyRejected({ points, rejected }: LevelFacts): WeighedReason[] {
  const odd = rejected.filter((r) => r.code !== 'flat-top').length
  const all = points.length + rejected.length
  if (odd <= mostRejected * all) return []
  return [
    reason(
      'undecided',
      'many-points-rejected',
      `${odd} of ${all} points did not count, more than ${100 * mostRejected} %: find out why and take them again.`,
    ),
  ]
}

/** The last reading on the way down, looked up on the way up: fuel by the marks against fuel by the sender. */
function loopReasons(run: LevelRun, { usable_full_L, hysteresis }: LevelFacts): WeighedReason[] {
  const level = run.points.filter((p) => p.attitude === 'level')
  const up = level.filter((p) => p.direction === 'up').sort((a, b) => a.usableM3 - b.usableM3)
  const last = level.filter((p) => p.direction === 'down').sort((a, b) => a.usableM3 - b.usableM3)[0]
  if (!last || up.length < 3 || usable_full_L === null) return []
  const bySenderL = fuelOf(up, last.reading) * liters
  const errorL = last.usableM3 * liters - bySenderL
  // The gap between up and down of a sound sender comes on top.
  const allowedL = loopShare * usable_full_L + Math.min(hysteresis?.fuel_L ?? 0, loopShare * usable_full_L)
  const figures = `after draining, the marks leave ${(Math.round(last.usableM3 * liters * 10) / 10 || 0).toFixed(1)} L and the sender reads what it read at ${bySenderL.toFixed(1)} L on the way up (${allowedL.toFixed(1)} L allowed)`
  if (Math.abs(errorL) <= allowedL) return [reason(null, 'loop-closes', `In and out agree: ${figures}.`)]
  return [
    reason(
      'fail',
      'loop-does-not-close',
      `In and out do not agree in ${run.recording}: ${figures}. A pour was marked wrongly, twice or not at all.`,
    ),
  ]
}

/** Fuel at which the way up gave this reading, along straight lines and beyond its ends. */
function fuelOf(up: readonly TakenPoint[], reading: number): number {
  const rises = up[up.length - 1].reading > up[0].reading
  const past = (p: TakenPoint): boolean => (rises ? p.reading >= reading : p.reading <= reading)
  const next = up.findIndex(past)
  const i = Math.min(up.length - 1, Math.max(1, next < 0 ? up.length - 1 : next))
  const [a, b] = [up[i - 1], up[i]]
  const slope = (b.reading - a.reading) / (b.usableM3 - a.usableM3)
  return slope === 0 ? a.usableM3 : a.usableM3 + (reading - a.reading) / slope
}

/** Hysteresis and interval against the steps of the gauge. */
function widthReasons({ hysteresis, steps_level, usable_full_L }: LevelFacts): WeighedReason[] {
  if (steps_level.length < 2 || usable_full_L === null) return []
  const gaps = steps_level.slice(1).map((step, i) => step.usable_L - steps_level[i].usable_L)
  const leastL = Math.min(...gaps)
  const reasons: WeighedReason[] = []
  if (hysteresis !== null && hysteresis.fuel_L > leastL / 2)
    reasons.push(
      reason(
        'undecided',
        'hysteresis-large',
        `Up and down differ by ${hysteresis.fuel_L.toFixed(1)} L, more than half a step of the gauge (${leastL.toFixed(1)} L).`,
      ),
    )
  const wide = steps_level.filter((s, i) => {
    const stepL = Math.min(gaps[i - 1] ?? gaps[i], gaps[i] ?? gaps[i - 1])
    return s.usable_low_L !== null && s.usable_high_L !== null && s.usable_high_L - s.usable_low_L > stepL
  })
  if (wide.length > 0)
    reasons.push(
      reason(
        'undecided',
        'interval-wide',
        `The interval is wider than the step of the gauge at ${wide.map((s) => s.step).join(', ')}.`,
      ),
    )
  return reasons
}

function boundsOf(values: readonly number[]): [string, string] {
  return [Math.min(...values).toFixed(1), Math.max(...values).toFixed(1)]
}

/** What one recording gives: its points, the sum of its pours, how it began. */
export interface LevelRun {
  readonly recording: string
  readonly points: readonly TakenPoint[]
  readonly rejected: readonly RejectedPoint[]
  readonly faults: readonly string[]
  readonly start: { readonly at: 'unusable' | 'dry'; readonly attitude: Attitude | null } | null
  readonly sum: ClosedSum
  readonly jugStated: boolean
  /** Usable fuel when the tank was brim-full; null when it was not filled so far. */
  readonly fullM3: number | null
}

/** A point that may count, with where it comes from. */
export interface TakenPoint {
  readonly recording: string
  readonly attitude: Attitude
  readonly direction: Direction
  readonly usableM3: number
  readonly reading: number
  readonly std: number
}

export type LevelFacts = Omit<LevelResult, 'verdict' | 'reasons'> & {
  readonly runs: readonly LevelRun[]
  /** As the system file states it. */
  readonly tank: Section
  readonly unusable: LevelOrder['unusable']
}

/** What is asked of a calibration beside its recordings. */
export interface LevelOrder {
  /** Parts of the gauge's scale, all alike, or the usable fuel at each of its marks, rising, [m³]. */
  readonly steps: number | readonly number[]
  readonly typed: readonly TypedPoint[]
  /** Least that can be told apart on the panel. */
  readonly readingStep: number
  /** What the tank did not give up, [m³]; null: the figure of the system file. */
  readonly unusable: { readonly m3: number; readonly halfWidthM3: number; readonly how: string | null } | null
}

/** A point typed from the panel: the fill, and what the gauge then showed; null where nobody read it. */
export interface TypedPoint {
  readonly fill: Fill
  readonly reading: number | null
}
