import type { Mark } from '#analysis/model/samples.ts'
import { straightLine } from '#analysis/numeric/straight-line.ts'

/** A known volume pushed into (or, negative, let out of) a section full of fuel, and the pressure response. */
export interface Stroke {
  /** Seconds from the recording's start. */
  readonly timeS: number
  /** [m³], positive when pushed in. */
  readonly volumeM3: number
  readonly stdM3: number
  /** Gauge pressure just before and just after, [Pa]. */
  readonly beforePa: number
  readonly afterPa: number
  /** Standard uncertainty of their difference, [Pa]. */
  readonly stdPa: number
}

/** Longest time span used on either side, [s]. */
const lookS = 24
/** Time excluded around the mark: mark and push are never simultaneous, [s]. */
const handS = 2
/** Additional time excluded after it: compressed air is warm and raises the pressure until it cools, [s]. */
const airCoolsS = 4
/** Relative error of the rise from hand, eye and remaining cooling, one std. Own figure. */
const riseStd = 0.025
/** A syringe read by eye, as a share of its stroke, unless the mark states it. Source: common practice */
const relativeStd = 0.02

interface Side {
  readonly atMark: number
  readonly std: number
}

/** The pressure on one side, extrapolated to the mark along its own slope. */
function side(
  timeS: Float64Array,
  gaugePa: Float64Array,
  fromS: number,
  toS: number,
  markS: number,
): Side | null {
  const seen = timeS.map((at, i) => (at >= fromS && at <= toS && Number.isFinite(gaugePa[i]) ? 1 : 0))
  const beside = (column: Float64Array): Float64Array => column.filter((_, i) => seen[i] === 1)
  const t = beside(timeS)
  if (t.length < 4) return null
  const line = straightLine(t, beside(gaugePa))
  const apartS = markS - line.meanX
  return {
    atMark: line.meanY + line.slope * apartS,
    std: Math.hypot(line.stdResidual / Math.sqrt(t.length), line.stdSlope * apartS),
  }
}

/**
 * Reads the strokes of a recording: `mark,kind=stroke volume_mL=1.0`, with `std_mL` where it is known.
 *
 * @param marks of the recording
 * @param timeS times of the pressure samples, ascending, [s]
 * @param gaugePa pressures, same length
 * @param fromS earliest moment, after the last pumping, [s]
 * @param untilS latest, before the vent, [s]
 * @returns strokes that have samples on both sides and moved the pressure in their own direction
 */
export function strokesOf(
  marks: readonly Mark[],
  timeS: Float64Array,
  gaugePa: Float64Array,
  fromS: number,
  untilS: number,
): Stroke[] {
  const marked = marks.filter((mark) => mark.kind === 'stroke' && mark.timeS > fromS && mark.timeS < untilS)
  const out: Stroke[] = []
  marked.forEach((mark, i) => {
    const millilitres = Number(mark.fields.volume_mL)
    if (!Number.isFinite(millilitres) || millilitres === 0) return
    const earliest = Math.max(fromS, i > 0 ? marked[i - 1].timeS + handS : fromS, mark.timeS - lookS)
    const latest = Math.min(
      untilS,
      i + 1 < marked.length ? marked[i + 1].timeS - handS : untilS,
      mark.timeS + lookS,
    )
    const before = side(timeS, gaugePa, earliest, mark.timeS - handS, mark.timeS)
    const after = side(timeS, gaugePa, mark.timeS + handS + airCoolsS, latest, mark.timeS)
    if (before === null || after === null) return
    const stdPa = Math.hypot(before.std, after.std)
    const moved = after.atMark - before.atMark
    if (Math.sign(moved) !== Math.sign(millilitres) || Math.abs(moved) < 3 * stdPa) return
    const stated = Number(mark.fields.std_mL)
    out.push({
      timeS: mark.timeS,
      volumeM3: millilitres * 1e-6,
      stdM3: (stated > 0 ? stated : relativeStd * Math.abs(millilitres)) * 1e-6,
      beforePa: before.atMark,
      afterPa: after.atMark,
      stdPa: Math.hypot(Math.max(stdPa, 1), riseStd * moved),
    })
  })
  return out
}
