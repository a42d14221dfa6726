import { median } from 'simple-statistics'
import type { ChannelSamples, Mark } from '#analysis/model/samples.ts'
import type { Channel } from '#analysis/model/system.ts'
import { parseQuantity } from '#analysis/physics/quantity.ts'
import { firstIndexAt } from '#analysis/signal/block-averages.ts'

export type Attitude = 'level' | 'ground'
export type Direction = 'up' | 'down'

/** Why a point of a level calibration does not count. */
export type PointFault =
  | 'reversal'
  | 'flat-top'
  | 'too-few-readings'
  | 'not-settled'
  | 'end-of-span'
  | 'attitude-not-stated'

/** Half width assumed for a jug whose tolerance is not stated: own figure. */
const assumedJugShare = 0.02

/**
 * Reads the fill marks of one tank.
 *
 * @param tank section or channel id; marks without an id count, marks of another id do not
 */
export function readFills(marks: readonly Mark[], tanks: readonly string[]) {
  const fills: Fill[] = []
  const faults: string[] = []
  for (const mark of marks) {
    if (mark.kind !== 'fill' || (mark.id !== null && !tanks.includes(mark.id))) continue
    const fill = readFill(mark)
    if (typeof fill === 'string') faults.push(`fill mark at ${Math.round(mark.timeS)} s: ${fill}`)
    else fills.push(fill)
  }
  return { fills: fills.sort((a, b) => a.timeS - b.timeS), faults }
}

function readFill(mark: Mark) {
  const { volume, direction = 'up', attitude, start, total, full } = mark.fields
  if (direction !== 'up' && direction !== 'down') return `direction "${direction}" is neither up nor down`
  if (attitude !== undefined && attitude !== 'level' && attitude !== 'ground')
    return `attitude "${attitude}" is neither level nor ground`
  if (start !== undefined && start !== 'unusable' && start !== 'dry')
    return `start "${start}" is neither unusable nor dry`
  if (volume === undefined && start === undefined && total === undefined)
    return 'no volume; write it with its tolerance, such as "5 L ± 0.5 %"'
  const poured = volume === undefined ? { valueM3: 0, halfWidthM3: 0, stated: true } : volumeOf(volume)
  if (typeof poured === 'string') return poured
  if (poured.valueM3 < 0) return 'a volume drawn off is written with direction "down", not with a minus'
  const known = total === undefined ? null : volumeOf(total)
  if (typeof known === 'string') return known
  return {
    timeS: mark.timeS,
    /** Poured in > 0, drawn off < 0; zero for a mark that only starts the calibration. */
    volumeM3: direction === 'down' ? -poured.valueM3 : poured.valueM3,
    halfWidthM3: poured.halfWidthM3,
    /** False when the mark states no tolerance: two percent is then assumed. */
    toleranceStated: poured.stated,
    direction: direction as Direction,
    attitude: (attitude ?? null) as Attitude | null,
    /** State of the tank at a start mark; null for other marks. */
    start: (start ?? null) as 'unusable' | 'dry' | null,
    /** Independent total of everything poured in since the start. */
    total: known as StatedVolume | null,
    /** Brim-full, to the filler. */
    full: full === true,
  }
}

/** One fill mark: the volume poured in (or drawn off) just before it, and the aircraft's attitude. */
export type Fill = Readonly<Exclude<ReturnType<typeof readFill>, string>>

function volumeOf(text: unknown): (StatedVolume & { readonly stated: boolean }) | string {
  if (typeof text !== 'string') return `a volume is text with its unit, such as "5 L ± 0.5 %", not ${text}`
  const read = parseQuantity(text, 'volume')
  if ('fault' in read) return read.fault
  const stated = read.tolerance !== null
  return { valueM3: read.value, halfWidthM3: read.tolerance ?? assumedJugShare * read.value, stated }
}

/** The sender's reading after one fill. */
export interface SteadyReading {
  readonly reading: number | null
  readonly std: number
  readonly fault: { readonly code: PointFault; readonly message: string } | null
}

/** Sloshing time after a pour, and the longest reading time after that, [s]. Own figures. */
const sloshS = 10
const windowS = 40
const fewestReadings = 5

/**
 * Reading of the sender after a fill: the median from ten seconds after the mark, for at most forty seconds and
 * not within the last fifth of the time to the next pour.
 *
 * The standard uncertainty of a median of n normal readings is √(π/2n) of theirs ([jcgm-100] 4.2.3 for the mean; the
 * factor is common practice); the scatter is 1.4826 times the median deviation, and at least a step of the reading over
 * √12.
 */
export function steadyReading(
  samples: ChannelSamples,
  channel: LevelGauge,
  fill: Fill,
  nextS: number | null,
): SteadyReading {
  const from = fill.timeS + sloshS
  const longest = from + windowS
  const until = nextS === null ? longest : Math.min(longest, fill.timeS + (nextS - fill.timeS) * 0.8)
  const values: number[] = []
  for (let i = firstIndexAt(samples.timeS, from); i < samples.timeS.length && samples.timeS[i] <= until; i++)
    values.push(samples.reading[i])
  const fault = (code: PointFault, message: string, reading: number | null): SteadyReading => ({
    reading,
    std: 0,
    fault: { code, message },
  })
  if (values.length < fewestReadings) {
    const few = `${values.length} readings between ${sloshS} s after the pour and the next one; wait longer after each pour`
    return fault('too-few-readings', few, null)
  }
  const middle = median(values)
  const scatter = 1.4826 * median(values.map((value) => Math.abs(value - middle)))
  const std = Math.max(scatter, (channel.resolutionSi ?? 0) / Math.sqrt(12))
  const third = Math.ceil(values.length / 3)
  const drift = Math.abs(median(values.slice(0, third)) - median(values.slice(-third)))
  const driftAllowed = 6 * std * Math.sqrt(Math.PI / third) + (channel.resolutionSi ?? 0)
  if (drift > driftAllowed && drift > 2e-3 * Math.abs(middle)) {
    const moved = `the reading still moved by ${drift.toPrecision(2)} while it was taken; wait longer`
    return fault('not-settled', moved, middle)
  }
  if (channel.rangeSi !== null) {
    const [low, high] = channel.rangeSi
    const edge = (high - low) * 1e-4
    if (middle <= low + edge || middle >= high - edge)
      return fault('end-of-span', 'the reading is at the end of the sensor’s span', middle)
  }
  return { reading: middle, std: std * Math.sqrt(Math.PI / (2 * values.length)), fault: null }
}

/** The gauge that is calibrated: a channel of the file, or the panel. */
export type LevelGauge = Pick<Channel, 'id' | 'unit' | 'resolutionSi' | 'rangeSi'>

/** A volume as stated, with the half width of its tolerance. */
export interface StatedVolume {
  readonly valueM3: number
  /** [m³] ≥ 0. */
  readonly halfWidthM3: number
}

/**
 * Error of the measuring jug from the sum of all pours and an independent total (weighed, or by a meter).
 *
 * The jug has the same error each time, so the errors of the pours are fully correlated: u(S) = Σ aᵢ/√3. Jug and total
 * are then two readings of one factor, combined by their weights: f = (1/u_S² + (T/S)/u_T²)/(1/u_S² + 1/u_T²), with
 * both uncertainties relative to S.
 *
 * @param pours as stated, [m³]
 * @param total independent, [m³]; null when there is none
 * @returns total less sum, [m³], and its standard uncertainty, null without a total; true liters per liter by the jug, and its
 * relative standard uncertainty
 * Source: [jcgm-100] 4.3.7 (half width over √3) and 5.2 (fully correlated inputs)
 * Check: ten of 5 L ± 1 %, total 50.4 L ± 0.1 L → difference 0.4 L, u 0.294392 L, factor 1.00769231 (computed: the
 * weights are 12 and 300 per L², so f = 1 + 0.008·75/78)
 */
export function closeTheSum(pours: readonly StatedVolume[], total: StatedVolume | null) {
  const sumM3 = pours.reduce((sum, pour) => sum + pour.valueM3, 0)
  const stdSumM3 = pours.reduce((sum, pour) => sum + pour.halfWidthM3, 0) / Math.sqrt(3)
  const own = sumM3 > 0 ? stdSumM3 / sumM3 : 0
  const jug = { sumM3, factor: 1, stdFactor: own }
  if (total === null || sumM3 <= 0)
    return { ...jug, totalM3: null, differenceM3: null, stdDifferenceM3: null }
  const stdTotalM3 = total.halfWidthM3 / Math.sqrt(3)
  const differenceM3 = total.valueM3 - sumM3
  const stdDifferenceM3 = Math.hypot(stdSumM3, stdTotalM3)
  const other = stdTotalM3 / sumM3
  // An exact total determines the factor; an exact jug keeps it at 1.
  const share = own === 0 && other === 0 ? 1 : own ** 2 / (own ** 2 + other ** 2)
  return {
    sumM3,
    totalM3: total.valueM3,
    differenceM3,
    stdDifferenceM3,
    factor: 1 + (share * differenceM3) / sumM3,
    stdFactor: own === 0 || other === 0 ? 0 : (own * other) / Math.hypot(own, other),
  }
}
