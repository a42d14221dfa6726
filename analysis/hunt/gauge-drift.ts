import type { Estimate, HoldResult } from '#analysis/model/hold-result.ts'
import type { Recording } from '#analysis/model/samples.ts'
import { isSectionPressure, type System } from '#analysis/model/system.ts'
import { straightLine } from '#analysis/numeric/straight-line.ts'
import { studentTQuantile, studentTUpperTail } from '#analysis/numeric/student-t.ts'
import { gaugeZero, zeroDrift } from '#analysis/signal/gauge-zero.ts'
import { pressureSignal } from '#analysis/signal/pressure-signal.ts'

/** What a gauge read at rest, open to the atmosphere, at one hold. */
export interface GaugeZero {
  /** Its serial number; its channel where the system file states none. */
  readonly gauge: string
  readonly record: string
  /** Begin of pump-up, epoch nanoseconds. */
  readonly time_ns: string
  readonly before_Pa: number
  /** Null where it was not seen at rest after the vent. */
  readonly after_Pa: number | null
}

/** The zeros of one gauge over months. */
export interface GaugeDrift {
  readonly gauge: string
  readonly zeros: readonly GaugeZero[]
  /** Slope of the line through them, [Pa] a year; null for too few. */
  readonly drift_Pa_per_year: Estimate | null
  /** Two-sided; null for too few. */
  readonly p_value: number | null
  /** The slope is none that chance makes. */
  readonly drifts: boolean
}

/** Chance of calling any gauge of an archive a drifting one where none drifts. */
const falseAlarms = 0.05
/** Fewer holds, or all of them within this time, tell nothing of months. Own figures. */
const leastHolds = 4
const leastDays = 7
const dayS = 86_400
const yearS = 365.25 * dayS

/** The zeros that a hold shows: of each gauge on its sections that stood still before the pump-up. */
export function zerosOfHold(
  recording: Recording,
  system: System,
  result: HoldResult,
  record: string,
): GaugeZero[] {
  const { pump_up_ns, vent_ns } = result.stages
  const spec = system.holds.find(({ id }) => id === result.hold)
  if (spec === undefined || pump_up_ns === null) return []
  const secondsAt = (ns: string): number => Number(BigInt(ns) - BigInt(recording.startNs)) / 1e9
  const pumpUpS = secondsAt(pump_up_ns)
  const ventS = vent_ns === null ? null : secondsAt(vent_ns)
  const nextS = recording.marks.find(
    ({ kind, timeS }) => kind === 'stage' && timeS > (ventS ?? pumpUpS) + 1,
  )?.timeS
  return system.channels
    .filter(({ measures, section }) => isSectionPressure(measures) && spec.sections.includes(section ?? ''))
    .flatMap((channel) => {
      const alone = {
        ...system,
        channels: system.channels.filter((one) => one.section === null || one === channel),
      }
      const signal = pressureSignal(recording, alone, spec)
      // Without a barometer the zero of an absolute gauge is the weather's.
      const before = signal?.atmosphereKnown ? gaugeZero(signal, pumpUpS, spec.pressurePa) : null
      if (signal === null || before === null) return []
      const endS = Math.min(nextS ?? Number.POSITIVE_INFINITY, signal.timeS.at(-1) ?? pumpUpS)
      const moved = zeroDrift(signal, { pumpUpS, ventS, endS }, spec.pressurePa)
      const after_Pa = moved === null ? null : before + moved.driftPa
      const gauge = channel.serial ?? channel.movable?.id ?? channel.id
      return [{ gauge, record, time_ns: pump_up_ns, before_Pa: before, after_Pa }]
    })
}

/**
 * Whether the zero of each gauge drifts over months: slope of a least-squares line through one point a hold, the mean of
 * its zeros before and after, which share their day. The scatter about the line is that of the gauge, its mounting and the
 * weather together; the slope has Student's t with n − 2 degrees of freedom, and of k gauges each is told below 5 %/k
 * (Bonferroni).
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
  const told = falseAlarms / Math.max(1, gauges.filter(({ line }) => line !== null).length)
  return gauges.map(({ gauge, zeros: own, line }): GaugeDrift => {
    if (line === null || !(line.stdSlope > 0))
      return { gauge, zeros: own, drift_Pa_per_year: null, p_value: null, drifts: false }
    const value = line.slope * yearS
    const half = studentTQuantile(0.975, own.length - 2) * line.stdSlope * yearS
    const p_value = 2 * studentTUpperTail(Math.abs(line.slope / line.stdSlope), own.length - 2)
    const drift_Pa_per_year = { value, low: value - half, high: value + half }
    return { gauge, zeros: own, drift_Pa_per_year, p_value, drifts: p_value < told }
  })
}
