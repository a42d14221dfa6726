import { groupBy } from '#analysis/model/group-by.ts'
import type { Recording } from '#analysis/model/samples.ts'
import type { Section } from '#analysis/model/system.ts'
import { z95 } from '#analysis/numeric/normal-distribution.ts'
import { rangeOf } from '#analysis/numeric/order-statistics.ts'
import {
  type Attitude,
  closeTheSum,
  type Direction,
  type Fill,
  type LevelGauge,
  type PointFault,
  readFills,
  type SteadyReading,
  steadyReading,
} from './fills.ts'
import { gaugeMarks, hysteresisOf, type LevelCurve, levelCurve, stepsOf } from './level-curve.ts'
import type { LevelOrder } from './level-sheet.ts'
import { type RunPoint, senseOf, sortRun } from './monotone.ts'

const liters = 1e3

/** A candidate point, with its origin. */
export interface TakenPoint extends RunPoint {
  readonly recording: string
  readonly attitude: Attitude
  readonly direction: Direction
}

interface RejectedPoint {
  readonly recording: string
  readonly attitude: Attitude | null
  readonly direction: Direction
  readonly usable_L: number
  readonly reading: number | null
  readonly code: PointFault
  readonly message: string
}

/** Data of one recording: its points, the sum of its pours, its start. */
export type LevelRun = Readonly<ReturnType<typeof runOf>>

/** Result of recordings and typed figures: the table of the gauge and its basis. Intervals are 95 %. */
export type LevelFacts = ReturnType<typeof levelFacts>

/** @param recordings each sums its pours from its own start mark */
export function levelFacts(
  recordings: readonly Recording[],
  channel: LevelGauge,
  stated: Section,
  order: LevelOrder,
) {
  const section = order.unusable === null ? stated : { ...stated, unusableM3: order.unusable.m3 }
  const runs = recordings.map((recording) => recordedRun(recording, channel, section))
  if (order.typed.length > 0) runs.push(typedRun(order, section))
  const points = runs.flatMap((run) => run.points)
  const sense = senseOf(points)
  const rejected = runs.flatMap((run) => run.rejected)
  const kept: TakenPoint[] = []
  let reachM3: number | null = null
  const span = rangeOf(points.map(({ reading }) => reading))
  if (sense !== 0) {
    const groups = groupBy(points, (p) => `${p.recording} ${p.attitude} ${p.direction}`)
    for (const group of groups.values()) {
      const noise = Math.max(...group.map(({ std }) => std))
      const sorted = sortRun(group, sense, Math.max(4 * noise, 2e-3 * span))
      kept.push(...sorted.kept)
      for (const point of sorted.reversals)
        rejected.push(reject(point, 'reversal', 'the reading reversed although the fuel did not'))
      for (const point of sorted.flatTop) {
        const fuel = `${(sorted.reachM3! * liters).toFixed(1)} L`
        rejected.push(reject(point, 'flat-top', `the sender no longer moves above ${fuel}`))
      }
      if (sorted.reachM3 !== null) reachM3 = Math.min(reachM3 ?? sorted.reachM3, sorted.reachM3)
    }
  }
  const stdFactor = Math.max(0, ...runs.map((run) => run.sum.stdFactor))
  const level = sense === 0 ? null : curveOfAttitude(kept, 'level', sense, stdFactor)
  const ground = sense === 0 ? null : curveOfAttitude(kept, 'ground', sense, stdFactor)
  const placardUsable = section.capacityM3 === null ? null : section.capacityM3 - (section.unusableM3 ?? 0)
  const measuredFull = runs.map((run) => run.fullM3).find((full) => full !== null) ?? null
  const top = points.length > 0 ? Math.max(...points.map(({ usableM3 }) => usableM3)) : null
  const fullM3 = measuredFull ?? placardUsable ?? top
  const hysteresis = level === null ? null : hysteresisOf(level, span)
  const jug = jugOf(runs)
  const marks = fullM3 === null ? [] : gaugeMarks(order.steps, fullM3)
  const result = {
    stillhold: 1 as const,
    channel: channel.id,
    section: section.id,
    recordings: recordings.map(({ name }) => name),
    reading_unit: channel.unit,
    reading_with_more_fuel: sense === 0 ? null : sense > 0 ? ('rises' as const) : ('falls' as const),
    /** From unusable fuel (0) to full, in the steps of the table. */
    usable_full_L: fullM3 === null ? null : fullM3 * liters,
    jug,
    capacity: capacityOf(runs, section),
    hysteresis,
    /** Largest fuel at which the sender still moves; null when it moves to the last point. */
    reads_up_to_L: reachM3 === null ? null : reachM3 * liters,
    /** Unusable fuel at the zero of the table: found, else as the file states it; null without either. */
    unusable_L: section.unusableM3 === null ? null : section.unusableM3 * liters,
    steps_level: level === null ? [] : stepsOf(level, marks),
    steps_ground: ground === null ? [] : stepsOf(ground, marks),
    points: kept.map(({ attitude, direction, usableM3, reading, std }) => ({
      attitude,
      direction,
      usable_L: usableM3 * liters,
      reading,
      std_reading: std,
    })),
    rejected: rejected as readonly RejectedPoint[],
  }
  return { result, runs: runs as readonly LevelRun[], tank: stated, unusable: order.unusable }
}

type ReadingAfter = (fill: Fill, next: Fill | undefined) => SteadyReading | null

function recordedRun(recording: Recording, channel: LevelGauge, section: Section): LevelRun {
  const { fills, faults } = readFills(recording.marks, [channel.id, section.id])
  const samples = recording.channels.find((one) => one.channel === channel.id)
  const readingAfter: ReadingAfter = (fill, next) =>
    samples ? steadyReading(samples, channel, fill, next?.timeS ?? null) : null
  return { ...runOf(recording.name, fills, readingAfter, section), faults }
}

/** Resolution of a gauge: half a step as half width, over √3 ([jcgm-100] 4.3.7). */
function typedRun({ typed, readingStep }: LevelOrder, section: Section): LevelRun {
  const readings = new Map(typed.map(({ fill, reading }) => [fill, reading]))
  const fills = typed.map(({ fill }) => fill)
  const std = readingStep / Math.sqrt(12)
  const readingAfter: ReadingAfter = (fill) => {
    const reading = readings.get(fill) ?? null
    return reading === null ? null : { reading, std, fault: null }
  }
  return runOf('panel', fills, readingAfter, section)
}

function runOf(recording: string, fills: readonly Fill[], readingAfter: ReadingAfter, section: Section) {
  const begin = fills.findIndex(({ start }) => start !== null)
  const counted = begin < 0 ? fills : fills.slice(begin)
  const sum = closedSumOf(counted)
  const offsetM3 = counted[0]?.start === 'dry' ? -(section.unusableM3 ?? 0) : 0
  const points: TakenPoint[] = []
  const rejected: RejectedPoint[] = []
  let nominalM3 = 0
  let attitude: Attitude | null = null
  let fullM3: number | null = null
  counted.forEach((fill, index) => {
    nominalM3 += fill.volumeM3
    attitude = fill.attitude ?? attitude
    const usableM3 = nominalM3 * sum.factor + offsetM3
    if (fill.full) fullM3 = usableM3
    const steady = readingAfter(fill, counted[index + 1])
    if (!steady) return
    const { reading, std } = steady
    const { direction } = fill
    if (steady.fault === null && reading !== null && attitude !== null) {
      points.push({ recording, attitude, direction, usableM3, reading, std })
      return
    }
    const fault = steady.fault ?? {
      code: 'attitude-not-stated',
      message: 'the mark does not say whether the aircraft was level',
    }
    rejected.push({ recording, attitude, direction, usable_L: usableM3 * liters, reading, ...fault })
  })
  const first = counted[0]
  return {
    recording,
    points,
    rejected,
    faults: [] as readonly string[],
    start: first?.start ? { at: first.start, attitude: first.attitude } : null,
    sum,
    jugStated: counted.every((fill) => fill.toleranceStated),
    /** Usable fuel when the tank was brim-full; null when never full. */
    fullM3: fullM3 as number | null,
  }
}

/** Sum of the pours up to the mark that states the total; of all pours when none does. */
function closedSumOf(fills: readonly Fill[]) {
  const at = fills.findIndex(({ total }) => total !== null)
  const upTo = at < 0 ? fills : fills.slice(0, at + 1)
  const pours = upTo
    .filter(({ volumeM3 }) => volumeM3 > 0)
    .map(({ volumeM3, halfWidthM3 }) => ({ valueM3: volumeM3, halfWidthM3 }))
  return closeTheSum(pours, at < 0 ? null : fills[at].total)
}

function curveOfAttitude(
  kept: readonly TakenPoint[],
  attitude: Attitude,
  sense: 1 | -1,
  stdFactor: number,
): LevelCurve | null {
  const runs = (['up', 'down'] as const)
    .map((direction) => kept.filter((p) => p.attitude === attitude && p.direction === direction))
    .filter((points) => new Set(points.map(({ usableM3 }) => Math.round(usableM3 * 1e9))).size >= 3)
  return runs.length === 0 ? null : levelCurve(runs, sense, stdFactor)
}

function reject(point: TakenPoint, code: RejectedPoint['code'], message: string): RejectedPoint {
  const { recording, attitude, direction, usableM3, reading } = point
  return { recording, attitude, direction, usable_L: usableM3 * liters, reading, code, message }
}

function jugOf(runs: readonly LevelRun[]) {
  const run = runs.find(({ sum }) => sum.totalM3 !== null) ?? runs.find(({ sum }) => sum.sumM3 > 0)
  if (!run) return null
  const { sumM3, totalM3, differenceM3, stdDifferenceM3, factor, stdFactor } = run.sum
  const inL = (m3: number | null): number | null => (m3 === null ? null : m3 * liters)
  return {
    sum_L: sumM3 * liters,
    total_L: inL(totalM3),
    difference_L: inL(differenceM3),
    difference_allowed_L: inL(stdDifferenceM3 === null ? null : z95 * stdDifferenceM3),
    /** True liters per liter by the jug. */
    factor,
    std_factor: stdFactor,
  }
}

function capacityOf(runs: readonly LevelRun[], section: Section) {
  const run = runs.find(({ fullM3 }) => fullM3 !== null)
  if (!run || run.fullM3 === null) return null
  const measured = (run.fullM3 + (section.unusableM3 ?? 0)) * liters
  const half = z95 * run.sum.stdFactor * measured
  return {
    measured_L: measured,
    measured_low_L: measured - half,
    measured_high_L: measured + half,
    placard_L: section.capacityM3 === null ? null : section.capacityM3 * liters,
  }
}
