import type { Recording } from '#analysis/model/samples.ts'
import type { HoldSpec, System } from '#analysis/model/system.ts'
import { type PressureSignal, pressureSignal } from '#analysis/signal/pressure-signal.ts'
import { pressureTrack } from '#analysis/signal/pressure-track.ts'
import { cyclesInPressure, letOffAt, type PressureCycle } from './cycles-in-pressure.ts'
import { operatorDisturbances } from './operator-disturbances.ts'
import { cyclesOfMarks, firstMarkS, type MarkedCycle } from './stage-marks.ts'
import { type HoldStages, isWet, stagesFromPressure } from './stages-from-pressure.ts'

/** A hold in a shorter wait than this was not held, [s]. */
const leastHoldS = 10
/** A vent that nobody marked is believed when the hold had this share of its stated time. */
const wholeShare = 0.95

/**
 * The holds of a recording in the order of time: from its stage marks, or from the pressure where no mark begins one.
 *
 * @param onlyHold keeps the holds of one id; marks that name no hold are then taken to mean it
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
    // A hold side by side with this one does not end it.
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

/** What the pressure itself shows between two moments. */
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

/** The vent as marked; where nobody marked it, as the pressure shows it, but not after the mark that ends the hold. */
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
  // A fall before the hold was over may be a joint that let go: then nobody vented, and only what came before counts.
  if (holdS !== null && lastS - holdS < wholeShare * spec.holdS) return { ventS: null, endS: lastS }
  return { ventS: lastS, endS: untilS }
}

/** Nobody marked the hold: it began when the stated settle was over. */
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
    return system.holds.find((spec) => spec.id === cycle.hold) ?? unknownHold(cycle.hold)
  }
  if (onlyHold !== null) return system.holds.find((spec) => spec.id === onlyHold) ?? null
  if (system.holds.length === 1) return system.holds[0]
  const fromS = cycle.holdS ?? cycle.settleS ?? firstMarkS(cycle)
  return nearestSpec(recording, system, fromS, cycle.ventS ?? endS)
}

/** Stands for a hold that marks name and the file does not have. */
function unknownHold(id: string): HoldSpec {
  const allow = { kind: 'drop', dropPa: 0 } as const
  return {
    id,
    sections: [],
    shut: [],
    pressurePa: 0,
    settleS: 0,
    holdS: 0,
    allow,
    allowSource: null,
    rig: null,
  }
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

/** Whoever marks the vent late marks it this late at most, [s]. */
const latestMarkS = 30
/** How far before that the usual course of the pressure is taken from, [s]. */
const usualS = 60
/** A fall up to the mark is the vent when it goes on at the mark this fast, or has this much behind it. Own figures. */
const fallingPerS = 0.001
const fallenShare = 0.6
/** The pressure at the mark is judged from so long before it, [s]. */
const atMarkS = 4

/**
 * The last moment at which a section surely stood closed, seconds from the recording's start: a second before the vent's
 * mark, or before the fall itself where the mark came after it.
 */
export function lastUnderPressureS(signal: PressureSignal, stages: HoldStages): number {
  const { ventS, endS, spec } = stages
  if (ventS === null) return endS
  const markedS = ventS - 1
  const holdS = stages.holdS ?? ventS
  const backS = Math.max(holdS + 0.5 * (ventS - holdS), ventS - latestMarkS)
  // Beyond the mark a little, so that a fall which begins at it shows its bend.
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
    // A step that stays where it fell to is a cock or a valve, and no vent.
    const going = perS > Math.max(fallingPerS * track.statedPa, 0.3 * (fallenPa / (timeS[last] - timeS[at])))
    return fallenPa > fallenShare * track.statedPa || going
  })
  if (hand === undefined) return markedS
  return Math.min(timeS[letOffAt(track, 0, hand.at)] - 1, markedS)
}
