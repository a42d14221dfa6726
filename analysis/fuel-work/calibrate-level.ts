import type { Recording } from '#analysis/model/samples.ts'
import type { Section } from '#analysis/model/system.ts'
import { rangeOf } from '#analysis/numeric/order-statistics.ts'
import type { LevelGauge } from './fills.ts'
import { findings, judged, type WeighedReason } from './findings.ts'
import { type LevelFacts, type LevelRun, levelFacts, type TakenPoint } from './level-facts.ts'
import type { LevelOrder } from './level-sheet.ts'

const liters = 1e3
const tenths = (value: number): string => value.toFixed(1)

const say = findings({
  void: {
    'no-fill-marks': 'No fill mark with readings of {channel}: mark each pour with its volume.',
    'too-few-points': 'Fewer than three good points in level attitude in any direction.',
  },
  fail: {
    'unusable-above-stated':
      '{found}, but {stated} L stated: less fuel is usable than the file and placard state (14 CFR 23.959). Correct both.',
    'sum-does-not-close': 'The sum does not close: {figures}. A pour was missed or the jug is wrong.',
    'placard-too-high': 'The placard says {placard} L, the tank holds {measured}: less than stated.',
    'sender-broken':
      'Between {low} and {high} L the reading reverses in both directions: the sender is broken there. Replace it and calibrate again.',
    'sender-stuck':
      'Between {low} and {high} L the reading does not change although the fuel does: the sender sticks there. Free or replace it and calibrate again.',
    'loop-does-not-close':
      'In and out do not agree in {recording}: {figures}. A pour was marked wrongly, twice or not at all.',
  },
  undecided: {
    'fill-mark-unread': '{fault}.',
    'zero-not-shown': 'Zero at unusable fuel in level attitude ({rule}) is not shown: {why}.',
    'unusable-not-stated':
      'Filled from dry, but no unusable fuel of {tank} was found or is stated: zero ({rule}) cannot be placed.',
    'zero-not-read': 'The reading at unusable fuel ({rule}) did not count: see the points left out.',
    'unusable-how-not-stated':
      '{found}: state how, in the most adverse attitude to the first sign of a failing engine or feed (14 CFR 23.959).',
    'one-direction':
      'Only one direction was taken in level attitude: draw fuel off again to find the hysteresis.',
    'sender-stops-short':
      'The sender no longer moves above {reach} L of {full} L: the gauge has no resolution there ({steps}).',
    'steps-not-reached': 'No point reaches {steps}.',
    'steps-not-told-apart': 'The sender cannot distinguish these steps: {pairs}.',
    'many-points-rejected':
      '{odd} of {all} points did not count, more than {most} %: find out why and take them again.',
    'hysteresis-large': 'Up and down differ by {fuel} L, more than half a step of the gauge ({step} L).',
    'interval-wide': 'The interval is wider than the step of the gauge at {steps}.',
  },
  note: {
    'table-stands': 'Zero, sum, capacity and both directions agree: the table is valid.',
    'points-rejected': '{count} of {all} points were left out: {codes}.',
    'zero-at-unusable': 'Zero of the table is unusable fuel in level attitude, {how} ({rule}).',
    'unusable-found': '{found}, and subtracted (14 CFR 23.959).',
    'jug-tolerance-assumed': 'A pour states no tolerance: ± 2 % is assumed (our figure).',
    'sum-not-closed': 'No independent total: the error of the jug is its stated tolerance.',
    'sum-closes': 'The sum closes: {figures}; a liter by the jug is {factor} L.',
    'capacity-not-measured': 'The tank was not marked full: its capacity is not compared with the placard.',
    'no-placard': 'The tank holds {measured}; the system file states no capacity.',
    'placard-low': 'The tank holds {measured}, more than the {placard} L of the placard.',
    'placard-agrees': 'The tank holds {measured}; the placard says {placard} L.',
    'loop-closes': 'In and out agree: {figures}.',
  },
})

/**
 * Calibrates a level sender from fuel added and drained, by recordings or by figures typed from the panel, and judges
 * whether the table may go to the gauge maker. Pass: zero is at unusable fuel in level attitude, the sum closes, both
 * directions were taken, every step has a reading and all steps are distinguishable.
 *
 * Source: 14 CFR 23.1337(b)(1) (2014): the indicator reads zero in level flight when the fuel left is the unusable fuel
 */
export function calibrateLevel(
  recordings: readonly Recording[],
  channel: LevelGauge,
  stated: Section,
  order: LevelOrder,
) {
  const facts = levelFacts(recordings, channel, stated, order)
  const reasons = [
    ...dataReasons(facts),
    ...zeroReasons(facts),
    ...unusableReasons(facts),
    ...sumReasons(facts),
    ...capacityReasons(facts.result),
    ...curveReasons(facts.result),
    // Checks of the sender and the marks, independent of the curve.
    ...rejectedBothWays(facts.result),
    ...standsStill(facts),
    ...manyRejected(facts.result),
    ...facts.runs.flatMap((run) => loopReasons(run, facts.result)),
    ...widthReasons(facts.result),
  ]
  const isSound = reasons.every(({ weight }) => weight === null)
  return { ...facts.result, ...judged([...reasons, ...(isSound ? say('table-stands') : [])]) }
}

/** Result of a level sender calibration, sealed as a record of kind `level`. */
export type LevelResult = ReturnType<typeof calibrateLevel>
export type LevelStep = LevelResult['steps_level'][number]
type Result = LevelFacts['result']

function dataReasons({ runs, result: { points, rejected, steps_level, channel } }: LevelFacts) {
  const all = points.length + rejected.length
  const tooFew = steps_level.length === 0 ? say('too-few-points') : []
  const codes = [...new Set(rejected.map(({ code }) => code))]
  return [
    ...[...new Set(runs.flatMap((run) => run.faults))].flatMap((fault) => say('fill-mark-unread', { fault })),
    ...(all === 0 ? say('no-fill-marks', { channel }) : tooFew),
    ...(rejected.length > 0 ? say('points-rejected', { count: rejected.length, all, codes }) : []),
  ]
}

function zeroReasons({ runs, tank, result: { unusable_L, steps_level } }: LevelFacts): WeighedReason[] {
  const rule = '14 CFR 23.1337(b)(1)'
  const starts = runs.map(({ start }) => start)
  const level = starts.find((start) => start !== null && start.attitude !== 'ground')
  if (!level) {
    const why = starts.some((start) => start !== null)
      ? 'zero was taken in ground attitude only'
      : 'no mark says that the tank was at unusable fuel (start="unusable") or dry'
    return say('zero-not-shown', { rule, why })
  }
  if (level.at === 'dry' && unusable_L === null) return say('unusable-not-stated', { tank: tank.id, rule })
  if (steps_level[0]?.reading === null) return say('zero-not-read', { rule })
  const how = level.at === 'unusable' ? 'drained to unusable fuel' : 'by the unusable fuel'
  return say('zero-at-unusable', { how, rule })
}

/**
 * Unusable fuel found against the placard: a pilot must not count on fuel that cannot be used.
 *
 * Source: [14-cfr-23] 23.959(a): the first evidence of malfunction under the most adverse feed condition
 */
function unusableReasons({ unusable, tank }: LevelFacts): WeighedReason[] {
  if (unusable === null) return []
  const { m3, halfWidthM3, how } = unusable
  const amount = `${tenths(m3 * liters)} L ± ${tenths(halfWidthM3 * liters)} L of unusable fuel found`
  if (how === null) return say('unusable-how-not-stated', { found: amount })
  const found = `${amount} (${how})`
  const stated = tank.unusableM3
  return stated !== null && m3 - halfWidthM3 > stated
    ? say('unusable-above-stated', { found, stated: tenths(stated * liters) })
    : say('unusable-found', { found })
}

function sumReasons({ runs, result: { jug } }: LevelFacts): WeighedReason[] {
  if (jug === null) return []
  const assumed = runs.some((run) => !run.jugStated) ? say('jug-tolerance-assumed') : []
  const { sum_L, total_L, difference_L, difference_allowed_L, factor } = jug
  if (difference_L === null || difference_allowed_L === null) return [...assumed, ...say('sum-not-closed')]
  const figures = `the pours add up to ${sum_L.toFixed(2)} L, the total is ${total_L!.toFixed(2)} L (difference ${difference_L.toFixed(2)} L, ${difference_allowed_L.toFixed(2)} L allowed)`
  const closes = Math.abs(difference_L) <= difference_allowed_L + 1e-9
  return [
    ...assumed,
    ...(closes
      ? say('sum-closes', { figures, factor: factor.toFixed(4) })
      : say('sum-does-not-close', { figures })),
  ]
}

function capacityReasons({ capacity }: Result): WeighedReason[] {
  if (capacity === null) return say('capacity-not-measured')
  const { measured_L, measured_low_L, measured_high_L, placard_L } = capacity
  const measured = `${tenths(measured_L)} L (${tenths(measured_low_L)} to ${tenths(measured_high_L)})`
  if (placard_L === null) return say('no-placard', { measured })
  const placard = tenths(placard_L)
  if (placard_L > measured_high_L) return say('placard-too-high', { placard, measured })
  return say(placard_L < measured_low_L ? 'placard-low' : 'placard-agrees', { placard, measured })
}

function curveReasons({ steps_level, hysteresis, reads_up_to_L, usable_full_L }: Result): WeighedReason[] {
  if (steps_level.length === 0) return []
  const blind = steps_level.filter(({ reading }) => reading === null).map(({ step }) => step)
  const pairs = steps_level.flatMap((step, i) => {
    const next = steps_level[i + 1]
    const high = step.usable_high_L
    const low = next?.usable_low_L ?? null
    const isConfused = high !== null && low !== null && high >= next.usable_L && low <= step.usable_L
    return isConfused ? [`${step.step} and ${next.step}`] : []
  })
  const short =
    reads_up_to_L !== null && usable_full_L !== null
      ? say('sender-stops-short', {
          reach: tenths(reads_up_to_L),
          full: tenths(usable_full_L),
          steps: blind.length > 0 ? blind : 'no step',
        })
      : blind.length > 0
        ? say('steps-not-reached', { steps: blind })
        : []
  return [
    ...(hysteresis === null ? say('one-direction') : []),
    ...short,
    ...(pairs.length > 0 ? say('steps-not-told-apart', { pairs: pairs.join('; ') }) : []),
  ]
}

/** Share of rejected points above which the rest is not trusted. Own figure. */
const mostRejected = 0.15
/** A sender that moves less than this share of its mean over a stretch is stuck there. Own figure. */
const stillShare = 0.15
/** Least length of a stretch, over the full tank. Own figure. */
const stretchShare = 0.1
/** Error of the loop due to jugs and readings, over the full tank. Own figure. */
const loopShare = 0.02

/** A float that sticks once affects one direction; a reversal in both directions is a broken sender. */
function rejectedBothWays({ rejected, usable_full_L }: Result): WeighedReason[] {
  const near = 0.5 * stretchShare * (usable_full_L ?? 0)
  const reversals = rejected.filter((r) => r.code === 'reversal')
  const twice = reversals.filter((r) =>
    reversals.some(
      (o) =>
        o.direction !== r.direction && o.attitude === r.attitude && Math.abs(o.usable_L - r.usable_L) <= near,
    ),
  )
  return twice.length === 0 ? [] : say('sender-broken', boundsOf(twice.map((r) => r.usable_L)))
}

/** A stretch, away from the top, where the reading does not move although the fuel does. */
function standsStill({ runs, result: { usable_full_L, reads_up_to_L } }: LevelFacts): WeighedReason[] {
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
        const moved = rangeOf(stretch.map((p) => p.reading))
        const expected = mean * (points[end].usableM3 - points[i].usableM3)
        const noise = 6 * Math.max(...stretch.map((p) => p.std))
        if (moved < stillShare * expected + Math.min(noise, 0.1 * expected))
          still.set(direction, [...(still.get(direction) ?? []), ...stretch.map((p) => p.usableM3 * liters)])
      }
    }
  if (still.size === 0) return []
  const weight = still.size > 1 ? 'fail' : 'undecided'
  return say('sender-stuck', boundsOf([...still.values()].flat())).map((reason) => ({ ...reason, weight }))
}

function manyRejected({ points, rejected }: Result): WeighedReason[] {
  const odd = rejected.filter((r) => r.code !== 'flat-top').length
  const all = points.length + rejected.length
  return odd > mostRejected * all ? say('many-points-rejected', { odd, all, most: 100 * mostRejected }) : []
}

/** Looks up the last reading of draining on the filling curve: fuel by the marks against fuel by the sender. */
function loopReasons(
  { points, recording }: LevelRun,
  { usable_full_L, hysteresis }: Result,
): WeighedReason[] {
  const [up, down] = (['up', 'down'] as const).map((direction) =>
    points
      .filter((p) => p.attitude === 'level' && p.direction === direction)
      .sort((a, b) => a.usableM3 - b.usableM3),
  )
  const [last] = down
  if (!last || up.length < 3 || usable_full_L === null) return []
  const bySenderL = fuelOf(up, last.reading) * liters
  const errorL = last.usableM3 * liters - bySenderL
  // Add the hysteresis of a sound sender.
  const allowedL = loopShare * usable_full_L + Math.min(hysteresis?.fuel_L ?? 0, loopShare * usable_full_L)
  const left = tenths(Math.round(last.usableM3 * liters * 10) / 10 || 0)
  const figures = `after draining, the marks leave ${left} L and the sender reads the same as at ${tenths(bySenderL)} L while filling (${tenths(allowedL)} L allowed)`
  return Math.abs(errorL) <= allowedL
    ? say('loop-closes', { figures })
    : say('loop-does-not-close', { recording, figures })
}

/** Fuel at which the filling curve gives this reading, by linear interpolation and extrapolation. */
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
function widthReasons({ hysteresis, steps_level, usable_full_L }: Result): WeighedReason[] {
  if (steps_level.length < 2 || usable_full_L === null) return []
  const gaps = steps_level.slice(1).map((step, i) => step.usable_L - steps_level[i].usable_L)
  const leastL = Math.min(...gaps)
  const wide = steps_level.filter((s, i) => {
    const stepL = Math.min(gaps[i - 1] ?? gaps[i], gaps[i] ?? gaps[i - 1])
    return s.usable_low_L !== null && s.usable_high_L !== null && s.usable_high_L - s.usable_low_L > stepL
  })
  return [
    ...(hysteresis !== null && hysteresis.fuel_L > leastL / 2
      ? say('hysteresis-large', { fuel: tenths(hysteresis.fuel_L), step: tenths(leastL) })
      : []),
    ...(wide.length > 0 ? say('interval-wide', { steps: wide.map((s) => s.step) }) : []),
  ]
}

const boundsOf = (values: readonly number[]) => ({
  low: tenths(Math.min(...values)),
  high: tenths(Math.max(...values)),
})
