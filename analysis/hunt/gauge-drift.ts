import type { Estimate, HoldResult } from '#analysis/model/hold-result.ts'
import type { Recording } from '#analysis/model/samples.ts'
import type { System } from '#analysis/model/system.ts'
import { straightLine } from '#analysis/numeric/straight-line.ts'
import { studentTQuantile, studentTUpperTail } from '#analysis/numeric/student-t.ts'
import { gaugeZero, zeroDrift } from '#analysis/signal/gauge-zero.ts'
import { pressureSignals } from '#analysis/signal/pressure-signal.ts'

/** The zeros of one gauge over months. */
export interface GaugeDrift {
  readonly gauge: string
  readonly zeros: readonly GaugeZero[]
  /** Slope of the line through the zeros, [Pa] a year; null for too few. */
  readonly drift_Pa_per_year: Estimate | null
  /** Two-sided; null for too few. */
  readonly p_value: number | null
  /** Whether the slope is significant. */
  readonly drifts: boolean
}

/** Family-wise false-alarm probability over the gauges of an archive. */
const falseAlarms = 0.05
/** Least number of holds and least time span for a drift over months. Own figures. */
const leastHolds = 4
const leastDays = 7
const dayS = 86_400
const yearS = 365.25 * dayS

/** Zeros from a hold, for each gauge on its sections at rest before pump-up. */
export function zerosOfHold(recording: Recording, system: System, result: HoldResult, record: string) {
  const { pump_up_ns, vent_ns } = result.stages
  const spec = system.holds.find(({ id }) => id === result.hold)
  if (spec === undefined || pump_up_ns === null) return []
  const secondsAt = (ns: string): number => Number(BigInt(ns) - BigInt(recording.startNs)) / 1e9
  const pumpUpS = secondsAt(pump_up_ns)
  const ventS = vent_ns === null ? null : secondsAt(vent_ns)
  const nextS = recording.marks.find(
    ({ kind, timeS }) => kind === 'stage' && timeS > (ventS ?? pumpUpS) + 1,
  )?.timeS
  return pressureSignals(recording, system, spec.sections).flatMap((signal) => {
    const { channel, atmosphereKnown, timeS } = signal
    // Without a barometer the zero of an absolute gauge follows the weather.
    const before = atmosphereKnown ? gaugeZero(signal, pumpUpS, spec.pressurePa) : null
    if (before === null) return []
    const endS = Math.min(nextS ?? Number.POSITIVE_INFINITY, timeS.at(-1) ?? pumpUpS)
    const moved = zeroDrift(signal, { pumpUpS, ventS, endS }, spec.pressurePa)
    return [
      {
        /** Serial number; the channel if the system file states none. */
        gauge: channel.serial ?? channel.movable?.id ?? channel.id,
        record,
        /** Start of pump-up, epoch nanoseconds. */
        time_ns: pump_up_ns,
        before_Pa: before,
        /** Null if not recorded at rest after the vent. */
        after_Pa: moved === null ? null : before + moved.driftPa,
      },
    ]
  })
}

/** Zero readings of a gauge at one hold, at rest and open to the atmosphere. */
export type GaugeZero = Readonly<ReturnType<typeof zerosOfHold>[number]>

/**
 * Tests the zero of each gauge for drift over months: slope of a least-squares line through one point per hold, the mean of
 * its zeros before and after, which share their day. The residuals combine gauge, mounting and weather; the slope has
 * Student's t with n − 2 degrees of freedom, and each of k gauges is reported below 5 %/k (Bonferroni).
 */
export function gaugeDrifts(zeros: readonly GaugeZero[]): GaugeDrift[] {
  const gauges = [...new Set(zeros.map(({ gauge }) => gauge))].sort().map((gauge) => {
    const own = zeros
      .filter((zero) => zero.gauge === gauge)
      .sort((a, b) => (BigInt(a.time_ns) < BigInt(b.time_ns) ? -1 : 1))
    const from = BigInt(own[0].time_ns)
    const timeS = Float64Array.from(own, ({ time_ns }) => Number(BigInt(time_ns) - from) / 1e9)
    const enough = own.length >= leastHolds && timeS[own.length - 1] >= leastDays * dayS
    const zeroPa = Float64Array.from(
      own,
      ({ before_Pa, after_Pa }) => (before_Pa + (after_Pa ?? before_Pa)) / 2,
    )
    return { gauge, zeros: own, line: enough ? straightLine(timeS, zeroPa) : null }
  })
  const significance = falseAlarms / Math.max(1, gauges.filter(({ line }) => line !== null).length)
  return gauges.map(({ gauge, zeros: own, line }): GaugeDrift => {
    if (line === null || !(line.stdSlope > 0))
      return { gauge, zeros: own, drift_Pa_per_year: null, p_value: null, drifts: false }
    const value = line.slope * yearS
    const half = studentTQuantile(0.975, own.length - 2) * line.stdSlope * yearS
    const p_value = 2 * studentTUpperTail(Math.abs(line.slope / line.stdSlope), own.length - 2)
    const drift_Pa_per_year = { value, low: value - half, high: value + half }
    return { gauge, zeros: own, drift_Pa_per_year, p_value, drifts: p_value < significance }
  })
}
