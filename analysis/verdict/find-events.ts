import type { AllowanceFigures, HoldEvent } from '#analysis/model/hold-result.ts'
import type { Mark, Recording } from '#analysis/model/samples.ts'
import { rangeOf } from '#analysis/numeric/order-statistics.ts'
import { type ColumnFit, UnknownNoiseFit } from '#analysis/numeric/unknown-noise.ts'
import { equalBlocks, firstIndexAt, meansOver } from '#analysis/signal/block-averages.ts'
import type { FittedSection } from './fitted-section.ts'

/** One section's hold stage, corrected for temperature and atmosphere. */
export interface SteadyCurve {
  readonly section: string
  /** Seconds from the recording's start, ascending, [s]. */
  readonly timeS: Float64Array
  readonly compensatedPa: Float64Array
  /** Leak that makes the pressure fall by one pascal a second: dn/dp, [mol/Pa], or [m³/Pa] for a liquid. */
  readonly leakPerPa: number
  readonly leakUnit: 'mol_per_s' | 'm3_per_s'
}

/** Probability of a false event in a whole hold, shared by the marks and the search. Own choice. */
const falseAlarm = 0.005
/** Prior probability of a change at a mark; marks of these kinds are tested at their own time. Own figures. */
const priorAt: Readonly<Partial<Record<Mark['kind'], number>>> = {
  work: 0.3,
  valve: 0.3,
  look: 0.1,
  plug: 0.2,
  note: 0.1,
}
const priorAnywhere = 0.05

interface Change {
  readonly atS: number
  readonly kind: 'slope' | 'step'
}

/** Blocks at each end without a change, and the fewest blocks worth testing. */
const edgeBlocks = 5
const mostBlocks = 60
const fewestBlocks = 20
const mostUnexplained = 2

/**
 * Changes of slope and steps inside a hold: at each mark, and at times found from the data alone.
 *
 * Block means are fitted with a parabola, which absorbs the residual of the compensation, and with noise of unknown
 * correlation and drift, so that a drifting sensor does not count as an event.
 * Each hypothesis is tested at its share of a false-alarm chance of 0.5 % per hold.
 *
 * @param marks of the recording; those outside the hold are ignored.
 * @param startNs time of the recording's start, epoch nanoseconds as decimal text.
 * *Uncertainty*: the interval of the change is the 95 % t interval at that time; a time found from the data counts as exact.
 */
export function findEvents(curve: SteadyCurve, marks: readonly Mark[], startNs: string): HoldEvent[] {
  const blocks = equalBlocks(curve.timeS, mostBlocks)
  if (blocks.length < fewestBlocks) return []
  const timeS = meansOver(curve.timeS, blocks)
  const first = timeS[edgeBlocks]
  const last = timeS[timeS.length - 1 - edgeBlocks]
  const tested = marks.flatMap((mark) => {
    const prior = priorAt[mark.kind]
    return prior !== undefined && mark.timeS > first && mark.timeS < last ? [{ mark, prior }] : []
  })
  const found: { change: Change; fit: ColumnFit; mark: Mark | null; prior: number }[] = []

  const changes = new UnknownNoiseFit(timeS, meansOver(curve.compensatedPa, blocks))
  for (const { mark, prior } of tested) {
    const level = falseAlarm / (4 * tested.length)
    const best = strongest(changes, timeS, [mark.timeS], level)
    if (best === null) continue
    found.push({ ...best, mark, prior })
    changes.accept(columnOf(timeS, best.change))
  }
  const times = [...timeS.slice(edgeBlocks, -edgeBlocks)].map((t, i) => (t + timeS[edgeBlocks + i - 1]) / 2)
  for (let n = 0; n < mostUnexplained; n++) {
    const free = times.filter((t) =>
      found.every((f) => Math.abs(f.change.atS - t) > edgeBlocks * (timeS[1] - timeS[0])),
    )
    const best = strongest(changes, timeS, free, falseAlarm / (4 * times.length))
    if (best === null) break
    found.push({ ...best, mark: null, prior: priorAnywhere / times.length })
    changes.accept(columnOf(timeS, best.change))
  }
  return found
    .map(({ change, fit, mark, prior }) => inResult(curve, startNs, change, fit, mark, prior))
    .sort((a, b) => (BigInt(a.time_ns) < BigInt(b.time_ns) ? -1 : 1))
}

function columnOf(timeS: Float64Array, { atS, kind }: Change): Float64Array {
  return kind === 'step' ? timeS.map((t) => (t > atS ? 1 : 0)) : timeS.map((t) => Math.max(0, t - atS))
}

/** The change of the smallest tail; null where none is below the level. */
function strongest(
  changes: UnknownNoiseFit,
  timeS: Float64Array,
  times: readonly number[],
  level: number,
): { change: Change; fit: ColumnFit } | null {
  let best: { change: Change; fit: ColumnFit } | null = null
  let least = level
  for (const atS of times)
    for (const kind of ['slope', 'step'] as const) {
      const change = { atS, kind }
      const column = columnOf(timeS, change)
      const fit = changes.canReach(column, least) ? changes.test(column) : null
      if (fit === null || !(fit.tail < least)) continue
      least = fit.tail
      best = { change, fit }
    }
  return best
}

function inResult(
  curve: SteadyCurve,
  startNs: string,
  { atS, kind }: Change,
  fit: ColumnFit,
  mark: Mark | null,
  prior: number,
): HoldEvent {
  const scale = kind === 'slope' ? -curve.leakPerPa : 1
  const ends = [fit.low * scale, fit.high * scale]
  const value = fit.value * scale
  const odds = (prior / (1 - prior)) * fit.bayesFactor
  return {
    time_ns: mark?.timeNs ?? String(BigInt(startNs) + BigInt(Math.round(atS * 1e3)) * 1_000_000n),
    kind,
    mark: mark === null ? null : { kind: mark.kind, id: mark.id },
    section: curve.section,
    change: {
      value,
      low: Math.min(...ends),
      high: Math.max(...ends),
      unit: kind === 'slope' ? curve.leakUnit : 'Pa',
    },
    probability: Math.min(0.9999, odds / (1 + odds)),
    message: inWords(kind, value, mark, curve.section),
  }
}

function inWords(kind: Change['kind'], value: number, mark: Mark | null, section: string): string {
  const when =
    mark === null ? 'without a mark' : `at the mark ${[mark.kind, mark.id].filter(Boolean).join(' ')}`
  if (kind === 'step') return `The pressure of ${section} stepped ${value < 0 ? 'down' : 'up'} ${when}.`
  return `The leak of ${section} ${value < 0 ? 'fell' : 'grew'} ${when}.`
}

/** Leak equal to the allowance, [mol/s], or [m³/s] for a liquid. */
export function allowedRateOf({ mol_per_s, mL_per_min = 0 }: AllowanceFigures): number {
  return mol_per_s ?? mL_per_min / 60e6
}

/** Changes of the leak and jumps of the pressure inside the hold. */
export function eventsInHold(
  recording: Recording,
  { curves, allowance, leak }: FittedSection,
  allowedRate: number,
  holdS: number,
  statedS: number,
): HoldEvent[] {
  const from = firstIndexAt(curves.timeS, holdS)
  const leakPerPa = (allowedRate * statedS) / allowance.drop_Pa
  const compensatedPa = curves.compensatedPa.subarray(from)
  if (!Number.isFinite(leakPerPa) || !compensatedPa.every(Number.isFinite)) return []
  return findEvents(
    {
      section: curves.section,
      timeS: curves.timeS.subarray(from),
      compensatedPa,
      leakPerPa,
      leakUnit: leak.mol_per_s ? 'mol_per_s' : 'm3_per_s',
    },
    recording.marks,
    recording.startNs,
  )
}

/**
 * A change of a full line's leak counts only beyond these multiples of the allowance, of the half width of the leak's interval
 * and of the temperature's bend of the curve: a kelvin moves a full line by a megapascal, and the residual of its correction
 * bends as a changing leak does. Own figures, from simulated tight holds of full lines (docs/method.md section 6).
 */
const liquidAllowances = 2
const liquidHalfWidths = 1
const liquidBends = 1.25
/** Share of the span of the other causes that a step must exceed, and number of parts that the hold is split into. */
const liquidStepShare = 0.2
const bendParts = 6

/** Events reported in a result, out of those that the guards of a pass use: in a full line, those clear of the thermometer. */
export function reportedEvents(
  recording: Recording,
  fitted: FittedSection,
  heeded: readonly HoldEvent[],
  allowedRate: number,
  holdS: number,
  statedS: number,
): readonly HoldEvent[] {
  const { allowance, leak, byThermometer } = fitted
  const { mL_per_min: liquid } = leak
  if (!liquid || byThermometer === undefined) return heeded
  const curves = byThermometer()
  const events = eventsInHold(recording, { ...fitted, curves }, allowedRate, holdS, statedS)
  if (events.length === 0) return events
  const from = firstIndexAt(curves.timeS, holdS)
  const leakPerPa = (allowedRate * statedS) / allowance.drop_Pa
  const timeS = curves.timeS.subarray(from)
  const otherPa = curves.gaugePa.subarray(from).map((pa, i) => pa - curves.compensatedPa[from + i])
  const half = (liquid.high - liquid.low) / 2 / 60e6
  const least = Math.max(
    liquidAllowances * allowedRate,
    liquidHalfWidths * half,
    liquidBends * leakPerPa * bendOf(timeS, otherPa),
  )
  const leastStepPa = liquidStepShare * rangeOf(otherPa)
  return events.filter(
    ({ kind, change }) => Math.abs(change.value) > (kind === 'slope' ? least : leastStepPa),
  )
}

/** Largest difference between the slopes of any two parts of a curve, [Pa/s]. */
function bendOf(timeS: Float64Array, pa: Float64Array): number {
  const part = Math.floor(timeS.length / bendParts)
  const slopes = Float64Array.from(
    { length: Math.max(0, timeS.length - part) },
    (_, i) => (pa[i + part] - pa[i]) / (timeS[i + part] - timeS[i]),
  )
  return rangeOf(slopes)
}
