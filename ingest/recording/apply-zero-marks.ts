import type { Mark } from '#analysis/model/samples.ts'
import { type Channel, type ChannelKind, isNamed } from '#analysis/model/system.ts'
import { parseQuantity } from '#analysis/physics/quantity.ts'
import { firstIndexAt } from '#analysis/signal/block-averages.ts'
import type { RecordingProblem } from './recording-problem.ts'
import type { TimedNumbers } from './scale-column.ts'

/** A capture: at this time the channel read `readSi` while the true value was `trueSi`. */
interface Capture {
  readonly timeS: number
  readonly readSi: number
  readonly trueSi: number
}

/** A larger correction is a wrong mark, not a drift: shift as a share of the span, gain as a share of one. */
const largestShift = 0.05
const largestGain = 0.1

/**
 * Applies the captures of a channel (`mark,kind=zero,id=CHANNEL reading=…,true=…`) to its readings, in place.
 *
 * The rule:
 *
 * - Numbers are SI, text carries its unit (`reading="0.02 psi"`). `reading` is the channel's value after its scale
 *   and before its calibration; `true` is 0 when left out.
 * - A capture applies to the samples from its time on. Earlier samples stay unchanged.
 * - One capture shifts the readings so that, through the calibration of the system file, the captured reading becomes
 *   the true value. Two captures whose true values differ by more than a tenth of the span set shift and gain: the
 *   newest capture and the newest one before it that differs enough.
 * - A capture during a hold, from its `pump-up` to its `vent` or `end`, is not applied: a step inside a hold could
 *   hide a leak. Nor is one that would move readings by more than 5 % of the span or change the gain by more than 10 %.
 *
 * @returns problems that describe each applied and each ignored capture
 */
export function applyZeroMarks(
  channel: Channel,
  { timeS, values }: TimedNumbers,
  marks: readonly Mark[],
): RecordingProblem[] {
  const problems: RecordingProblem[] = []
  const say = (code: 'zero-applied' | 'zero-ignored', mark: Mark, what: string) =>
    problems.push({
      code,
      line: null,
      message: `channel ${channel.id}: the capture at ${mark.timeS.toFixed(1)} s ${what}`,
    })
  const taken: { capture: Capture; slope: number; offset: number }[] = []
  for (const mark of marks) {
    if (mark.kind !== 'zero' || !isNamed(channel, mark.id)) continue
    const readSi = valueSi(mark.fields.reading, channel.measures)
    const trueSi = valueSi(mark.fields.true ?? 0, channel.measures)
    if (readSi === null || trueSi === null)
      say('zero-ignored', mark, 'needs a reading and a true value, in SI or with a unit')
    else if (isInHold(mark, marks)) say('zero-ignored', mark, 'was made during a hold and is not applied')
    else {
      const capture = { timeS: mark.timeS, readSi, trueSi }
      const earlier = taken.map((entry) => entry.capture)
      const line = correctionLine(channel, capture, earlier)
      if (typeof line === 'string') say('zero-ignored', mark, `${line} and is not applied`)
      else {
        taken.push({ capture, ...line })
        say('zero-applied', mark, 'corrects the readings from there on')
      }
    }
  }
  for (const [k, { slope, offset, capture }] of taken.entries()) {
    const from = firstIndexAt(timeS, capture.timeS)
    const to = firstIndexAt(timeS, taken[k + 1]?.capture.timeS ?? Number.POSITIVE_INFINITY)
    values.set(
      values.subarray(from, to).map((value) => slope * value + offset),
      from,
    )
  }
  return problems
}

/** The line from captured readings to those that the calibration maps to the true values, or the reason for none. */
function correctionLine(
  channel: Channel,
  capture: Capture,
  earlier: readonly Capture[],
): { slope: number; offset: number } | string {
  const span = channel.rangeSi === null ? null : channel.rangeSi[1] - channel.rangeSi[0]
  const wanted = beforeCalibration(channel, capture.trueSi)
  const shift = wanted - capture.readSi
  if (span !== null && Math.abs(shift) > largestShift * span)
    return 'would move the readings by more than 5 % of the span'
  const apart = span === null ? 0 : 0.1 * span
  const other = earlier.findLast(
    ({ trueSi, readSi }) => Math.abs(trueSi - capture.trueSi) > apart && readSi !== capture.readSi,
  )
  if (other === undefined) return { slope: 1, offset: shift }
  const slope = (wanted - beforeCalibration(channel, other.trueSi)) / (capture.readSi - other.readSi)
  if (!(Math.abs(slope - 1) <= largestGain)) return 'would change the gain by more than 10 %'
  return { slope, offset: wanted - slope * capture.readSi }
}

/** Inverse of the system file's calibration, linear between points: the reading that it maps to a true value. */
function beforeCalibration(channel: Channel, trueSi: number): number {
  let [low, high, ...rest] = channel.calibration?.points ?? []
  if (low === undefined) return trueSi
  if (high === undefined) return trueSi - low[0] + low[1]
  for (const next of rest) if (trueSi > high[0]) [low, high] = [high, next]
  const [trueLow, readLow] = low
  const [trueHigh, readHigh] = high
  return readLow + ((trueSi - trueLow) * (readHigh - readLow)) / (trueHigh - trueLow)
}

function isInHold(mark: Mark, marks: readonly Mark[]): boolean {
  let inHold = false
  for (const { kind, timeS, fields } of marks) {
    if (kind !== 'stage' || timeS > mark.timeS) continue
    inHold = fields.name !== 'vent' && fields.name !== 'end'
  }
  return inHold
}

function valueSi(value: string | number | boolean | undefined, measures: ChannelKind): number | null {
  if (typeof value === 'number') return value
  if (typeof value !== 'string') return null
  const dimension =
    measures === 'temperature' ? 'temperature' : measures === 'fuel-flow' ? 'volume-flow' : 'pressure'
  const read = parseQuantity(value, dimension)
  return 'fault' in read ? null : read.value
}
