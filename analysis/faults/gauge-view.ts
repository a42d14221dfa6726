import { statedAllowance } from '#analysis/fit/hold-leak.ts'
import { channelOrigins, type Mark, type Recording } from '#analysis/model/samples.ts'
import { type Channel, isNamed, type System } from '#analysis/model/system.ts'
import { medianOf } from '#analysis/numeric/order-statistics.ts'
import { firstIndexAt } from '#analysis/signal/block-averages.ts'
import { gaugeZero } from '#analysis/signal/gauge-zero.ts'
import type { PressureSignal } from '#analysis/signal/pressure-signal.ts'
import type { MeasuredSection } from '#analysis/signal/pressurised-bodies.ts'
import { type SampleNoise, sampleNoise } from '#analysis/signal/sample-noise.ts'
import type { HoldStages } from '#analysis/stages/stages-from-pressure.ts'

/** One section's gauge during one hold, as the checks use it. The sign of a suction hold is inverted. */
export interface GaugeView extends MeasuredSection, Pick<HoldStages, 'spec' | 'pumpUpS' | 'ventS' | 'endS'> {
  readonly recording: Recording
  readonly system: System
  /** End of pump-up; the start of the hold if unmarked. */
  readonly settleS: number
  readonly holdS: number
  /** Last moment before the vent. */
  readonly untilS: number
  /** Stated test pressure, [Pa] > 0. */
  readonly testPa: number
  /** Allowed fall over the stated hold time, [Pa]. */
  readonly allowedPa: number
  readonly noise: SampleNoise
  /** A dial read by eye with a stated division: few readings are enough, because the division bounds what they hide. */
  readonly byEye: boolean
  /** Times of the readings of the hold, [s], and the median time between them. */
  readonly heardS: Float64Array
  readonly spacingS: number
  /**
   * Gauge pressure less its zero, positive under test, from `fromS` to just before `toS`, without missing readings. A long
   * stretch is subsampled evenly, which is enough for its means and quantiles.
   */
  level(fromS: number, toS: number): Float64Array
}

/** Approximate most readings of one stretch that a check uses. */
const mostLevels = 10_000

/** Most divisions of a dial over its span, or up to the test pressure if no span is stated. Own figure. */
const mostDivisions = 600

/** Whether a gauge is read by eye: its readings were typed, or it has few divisions, as a dial. The division must be stated. */
function isReadByEye(
  { id, movable, resolutionSi, rangeSi }: Channel,
  testPa: number,
  marks: readonly Mark[],
): boolean {
  if (resolutionSi === null) return false
  const isTyped = channelOrigins(marks).some(
    (origin) => origin.kind === 'typed' && isNamed({ id, movable }, origin.channel),
  )
  return isTyped || (rangeSi === null ? testPa : rangeSi[1] - rangeSi[0]) <= mostDivisions * resolutionSi
}

/** Times of the readings from one moment to another, without missing ones. */
function timesHeard({ timeS, gaugePa }: PressureSignal, fromS: number, toS: number): Float64Array {
  const [from, to] = [firstIndexAt(timeS, fromS), firstIndexAt(timeS, toS + 1e-9)]
  const [times, readings] = [timeS.subarray(from, to), gaugePa.subarray(from, to)]
  // A day has millions of readings: copied only to leave some out.
  return readings.every(Number.isFinite) ? times : times.filter((_, i) => Number.isFinite(readings[i]))
}

/** Median time between readings, from some thousands of them, [s]; 0 for fewer than two. */
function usualSpacing(heardS: Float64Array): number {
  const stride = Math.max(1, Math.floor(heardS.length / 5000))
  const steps: number[] = []
  for (let i = 1; i < heardS.length; i += stride) steps.push(heardS[i] - heardS[i - 1])
  return steps.length > 0 ? medianOf(Float64Array.from(steps)) : 0
}

/** @param untilS last moment to use, seconds from the recording's start */
export function gaugeView(
  recording: Recording,
  system: System,
  measured: MeasuredSection,
  stages: HoldStages,
  untilS: number,
): GaugeView {
  const { signal } = measured
  const { spec } = stages
  const holdS = stages.holdS ?? stages.endS
  const sign = spec.pressurePa < 0 ? -1 : 1
  const zero = gaugeZero(signal, stages.pumpUpS, spec.pressurePa) ?? 0
  const { timeS, gaugePa } = signal
  const testPa = Math.abs(spec.pressurePa)
  const heardS = timesHeard(signal, holdS, untilS)
  return {
    ...measured,
    ...stages,
    recording,
    system,
    holdS,
    settleS: stages.settleS ?? holdS,
    untilS,
    testPa,
    allowedPa: statedAllowance(system, spec).drop_Pa,
    byEye: isReadByEye(signal.channel, testPa, recording.marks),
    heardS,
    spacingS: usualSpacing(heardS),
    noise: sampleNoise(
      gaugePa.subarray(firstIndexAt(timeS, holdS), firstIndexAt(timeS, untilS)),
      signal.channel.resolutionSi,
    ),
    level(fromS, toS) {
      const from = firstIndexAt(timeS, fromS)
      const to = firstIndexAt(timeS, toS)
      const stride = Math.max(1, Math.floor((to - from) / mostLevels))
      const out = new Float64Array(Math.max(0, Math.ceil((to - from) / stride)))
      let kept = 0
      for (let i = from; i < to; i += stride)
        if (Number.isFinite(gaugePa[i])) out[kept++] = sign * (gaugePa[i] - zero)
      return out.subarray(0, kept)
    },
  }
}
