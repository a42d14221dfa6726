import type { Recording } from '#analysis/model/samples.ts'
import { type HoldSpec, type System, unstatedHold } from '#analysis/model/system.ts'
import { type PressureSignal, pressureSignal } from '#analysis/signal/pressure-signal.ts'
import { pressureTrack } from '#analysis/signal/pressure-track.ts'
import { cyclesInPressure, letOffAt, type PressureCycle } from './cycles-in-pressure.ts'
import { operatorDisturbances } from './operator-disturbances.ts'
import { cyclesOfMarks, firstMarkS, type MarkedCycle } from './stage-marks.ts'
import { type HoldStages, isWet, stagesFromPressure } from './stages-from-pressure.ts'

/** A shorter wait than this is no hold, [s]. */
const leastHoldS = 10
/** An unmarked vent counts when the hold lasted this share of its stated time. */
const wholeShare = 0.95

/**
 * The holds of a recording in order of time: from its stage marks, or from the pressure without such marks.
 *
 * @param onlyHold keeps the holds of one id; marks without a hold id then refer to it
 */
export function holdStages(
  recording: Recording,
  system: System,
  onlyHold: string | null = null,
): HoldStages[] {
  const cycles = cyclesOfMarks(recording.marks)
  if (cycles.length === 0) return stagesFromPressure(recording, system, onlyHold)
  const lastS = lastSampleS(recording)
  return cycles.flatMap((cycle): HoldStages[] => {
    const firstS = firstMarkS(cycle)
    const doneS = cycle.ventS ?? cycle.endS ?? cycle.holdS ?? firstS
    // A simultaneous hold does not end this one.
    const next = cycles.find(
      (other) => other !== cycle && firstMarkS(other) >= doneS && firstMarkS(other) > firstS,
    )
    const nextS = next === undefined ? Number.POSITIVE_INFINITY : firstMarkS(next)
    const untilS = Math.min(nextS, Math.max(lastS, doneS))
    const endS = Math.min(untilS, cycle.endS ?? Number.POSITIVE_INFINITY)
    const spec = specOfCycle(recording, system, cycle, endS, onlyHold)
    if (spec === null) return []
    const seen =
      cycle.holdS === null || cycle.ventS === null ? seenCycle(recording, system, spec, firstS, untilS) : null
    const found = { ...cycle, ...ventOf(cycle, spec, seen, endS, untilS) }
    const holdS = found.holdS ?? impliedHoldStart(found, spec, seen)
    const { pumpUpS, settleS, ventS } = found
    return [{ spec, source: 'marks', pumpUpS, settleS, holdS, ventS, endS: found.endS }]
  })
}

/** The cycle that the pressure itself shows between two times. */
function seenCycle(
  recording: Recording,
  system: System,
  spec: HoldSpec,
  fromS: number,
  toS: number,
): PressureCycle | null {
  const signal = pressureSignal(recording, system, spec)
  if (signal === null) return null
  const cycles = cyclesInPressure(signal, spec, isWet(system, spec))
  return cycles.find((c) => c.pumpedS < toS && (c.ventS ?? c.endS) > fromS) ?? null
}

/** The marked vent; without a mark, the vent seen in the pressure, but not after the end mark of the hold. */
function ventOf(
  { holdS, ventS, endS: markedEndS }: MarkedCycle,
  spec: HoldSpec,
  seen: PressureCycle | null,
  endS: number,
  untilS: number,
): { readonly ventS: number | null; readonly endS: number } {
  if (ventS !== null) return { ventS, endS }
  const shown = seen?.ventS ?? null
  if (shown === null || shown >= untilS || shown <= (holdS ?? Number.NEGATIVE_INFINITY))
    return { ventS: null, endS }
  const lastS = Math.min(shown, markedEndS ?? shown)
  // A fall before the end of the hold may be a joint that failed: not a vent, and only the part before it counts.
  if (holdS !== null && lastS - holdS < wholeShare * spec.holdS) return { ventS: null, endS: lastS }
  return { ventS: lastS, endS: untilS }
}

/** Start of an unmarked hold: the end of the stated settle. */
function impliedHoldStart(cycle: MarkedCycle, spec: HoldSpec, seen: PressureCycle | null): number | null {
  if (cycle.ventS === null) return null
  const settleS = cycle.settleS ?? seen?.pumpedS ?? null
  if (settleS === null) return null
  const holdS = settleS + spec.settleS
  return holdS + leastHoldS <= cycle.ventS ? holdS : null
}

function specOfCycle(
  recording: Recording,
  system: System,
  cycle: MarkedCycle,
  endS: number,
  onlyHold: string | null,
): HoldSpec | null {
  if (cycle.hold !== null) {
    if (onlyHold !== null && cycle.hold !== onlyHold) return null
    return system.holds.find((spec) => spec.id === cycle.hold) ?? { ...unstatedHold, id: cycle.hold }
  }
  if (onlyHold !== null) return system.holds.find((spec) => spec.id === onlyHold) ?? null
  if (system.holds.length === 1) return system.holds[0]
  const fromS = cycle.holdS ?? cycle.settleS ?? firstMarkS(cycle)
  return nearestSpec(recording, system, fromS, cycle.ventS ?? endS)
}

/** The hold whose sections are pressurised and whose stated pressure is nearest to the one seen. */
function nearestSpec(recording: Recording, system: System, fromS: number, toS: number): HoldSpec | null {
  let best: { spec: HoldSpec; misfit: number } | null = null
  for (const spec of system.holds) {
    const signal = pressureSignal(recording, system, spec)
    if (signal === null) continue
    const level = signal.meanGauge(fromS, toS)
    if (level === null) continue
    const misfit = Math.abs(Math.log(Math.max(level / spec.pressurePa, 1e-3)))
    if (best === null || misfit < best.misfit) best = { spec, misfit }
  }
  return best?.spec ?? null
}

function lastSampleS(recording: Recording): number {
  let last = 0
  for (const { timeS } of recording.channels)
    if (timeS.length > 0) last = Math.max(last, timeS[timeS.length - 1])
  return last
}

/** Maximum delay of a vent mark, [s]. */
const latestMarkS = 30
/** Length of the undisturbed pressure curve used before that, [s]. */
const usualS = 60
/** A fall before the mark is the vent if it is this fast at the mark, or this large by then. Own figures. */
const fallingPerS = 0.001
const fallenShare = 0.6
/** Time before the mark over which its slope is measured, [s]. */
const atMarkS = 4

/**
 * The last time at which a section was surely closed, seconds from the recording's start: a second before the vent mark,
 * or before the fall if the mark is later.
 */
export function lastUnderPressureS(signal: PressureSignal, stages: HoldStages): number {
  const { ventS, endS, spec } = stages
  if (ventS === null) return endS
  const markedS = ventS - 1
  const holdS = stages.holdS ?? ventS
  const backS = Math.max(holdS + 0.5 * (ventS - holdS), ventS - latestMarkS)
  // Extend beyond the mark, so that the bend of a fall at the mark is visible.
  const track = pressureTrack(signal, spec, Math.max(holdS, backS - usualS), Math.min(endS, ventS + 10))
  const { timeS, levelPa } = track
  let last = timeS.length - 1
  while (last > 0 && timeS[last] > ventS) last--
  if (last < 3) return markedS
  const hand = operatorDisturbances(track, 0, last, false).find(({ at, kind }) => {
    if (kind !== 'let-off' || timeS[at] < backS) return false
    const fallenPa = levelPa[Math.max(0, at - 3)] - levelPa[last]
    let shortly = last
    while (shortly > at && timeS[last] - timeS[shortly] < atMarkS) shortly--
    const perS = (levelPa[shortly] - levelPa[last]) / Math.max(timeS[last] - timeS[shortly], 1e-9)
    // A step to a steady level is a cock or a valve, not a vent.
    const going = perS > Math.max(fallingPerS * track.statedPa, 0.3 * (fallenPa / (timeS[last] - timeS[at])))
    return fallenPa > fallenShare * track.statedPa || going
  })
  if (hand === undefined) return markedS
  return Math.min(timeS[letOffAt(track, 0, hand.at)] - 1, markedS)
}
