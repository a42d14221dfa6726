import type { Mark, Recording } from '#analysis/model/samples.ts'
import type { HoldSpec, System } from '#analysis/model/system.ts'
import { cyclesInPressure } from './cycles-in-pressure.ts'
import { isLiquid } from './liquid-prior.ts'
import { pressureSignal } from './pressure-signal.ts'

/** When one hold went through its stages, [s] from the recording's start; null where a stage was not seen. */
export interface HoldStages {
  readonly spec: HoldSpec
  readonly source: 'marks' | 'pressure'
  readonly pumpUpS: number | null
  readonly settleS: number | null
  /** Null: the hold was never begun. */
  readonly holdS: number | null
  readonly ventS: number | null
  /** Last moment that belongs to this hold: its end mark, the next pump-up or the recording's end. */
  readonly endS: number
}

interface Cycle {
  hold: string | null
  pumpUpS: number | null
  settleS: number | null
  holdS: number | null
  ventS: number | null
  endS: number | null
}

const order = ['pump-up', 'settle', 'hold', 'vent', 'end'] as const
const keyOf = { 'pump-up': 'pumpUpS', settle: 'settleS', hold: 'holdS', vent: 'ventS', end: 'endS' } as const

/**
 * The holds of a recording in the order of time: from its stage marks, or from the pressure where it has none.
 *
 * @param onlyHold keeps the holds of one id; marks that name no hold are then taken to mean it
 */
export function holdStages(
  recording: Recording,
  system: System,
  onlyHold: string | null = null,
): HoldStages[] {
  const stageMarks = recording.marks.filter((mark) => mark.kind === 'stage')
  const lastS = lastSampleS(recording)
  if (stageMarks.length === 0) return stagesFromPressure(recording, system, onlyHold)
  const cycles = cyclesOfMarks(stageMarks)
  const out: HoldStages[] = []
  cycles.forEach((cycle, i) => {
    const nextS = cycles[i + 1] ? firstTime(cycles[i + 1]) : Number.POSITIVE_INFINITY
    const endS = Math.min(nextS, cycle.endS ?? Number.POSITIVE_INFINITY, Math.max(lastS, firstTime(cycle)))
    const spec = specOfCycle(recording, system, cycle, endS, onlyHold)
    if (spec === null) return
    const { pumpUpS, ventS } = cycle
    const settleS = cycle.settleS ?? null
    let { holdS } = cycle
    if (holdS === null && ventS !== null) holdS = impliedHoldStart(recording, system, spec, cycle, ventS)
    out.push({ spec, source: 'marks', pumpUpS, settleS, holdS, ventS, endS })
  })
  return out
}

function cyclesOfMarks(marks: readonly Mark[]): Cycle[] {
  const cycles: Cycle[] = []
  let reached: number = order.length
  let current: Cycle | null = null
  for (const mark of marks) {
    const rank = order.indexOf(mark.fields.name as (typeof order)[number])
    if (rank < 0) continue
    if (current === null || rank <= reached) {
      // An end mark with nothing before it closes nothing.
      if (rank === 4) continue
      current = { hold: null, pumpUpS: null, settleS: null, holdS: null, ventS: null, endS: null }
      cycles.push(current)
    }
    reached = rank
    current[keyOf[order[rank]]] = mark.timeS
    current.hold ??= mark.hold
  }
  // A vent alone (letting off what an earlier test left) is no hold.
  return cycles.filter((c) => c.pumpUpS !== null || c.settleS !== null || c.holdS !== null)
}

function firstTime(cycle: Cycle): number {
  return cycle.pumpUpS ?? cycle.settleS ?? cycle.holdS ?? cycle.ventS ?? 0
}

function specOfCycle(
  recording: Recording,
  system: System,
  cycle: Cycle,
  endS: number,
  onlyHold: string | null,
): HoldSpec | null {
  if (cycle.hold !== null) {
    if (onlyHold !== null && cycle.hold !== onlyHold) return null
    return system.holds.find((spec) => spec.id === cycle.hold) ?? null
  }
  if (onlyHold !== null) return system.holds.find((spec) => spec.id === onlyHold) ?? null
  if (system.holds.length === 1) return system.holds[0]
  const fromS = cycle.holdS ?? cycle.settleS ?? firstTime(cycle)
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

function impliedHoldStart(
  recording: Recording,
  system: System,
  spec: HoldSpec,
  cycle: Cycle,
  ventS: number,
): number | null {
  if (cycle.settleS !== null) return Math.min(cycle.settleS + spec.settleS, ventS)
  const signal = pressureSignal(recording, system, spec)
  const seen =
    signal && cyclesInPressure(signal, spec).find((c) => c.pumpedS > firstTime(cycle) && c.pumpedS < ventS)
  return seen ? Math.min(seen.pumpedS + spec.settleS, ventS) : null
}

function stagesFromPressure(recording: Recording, system: System, onlyHold: string | null): HoldStages[] {
  const found: (HoldStages & { misfit: number })[] = []
  for (const spec of system.holds) {
    if (onlyHold !== null && spec.id !== onlyHold) continue
    const signal = pressureSignal(recording, system, spec)
    if (signal === null) continue
    for (const cycle of cyclesInPressure(signal, spec, isWet(system, spec))) {
      const untilS = cycle.ventS ?? cycle.endS
      const holdS = unmarkedHoldStart(cycle.pumpedS, cycle.ventS, spec)
      const level = signal.meanGauge(cycle.pumpedS, untilS) ?? spec.pressurePa
      found.push({
        spec,
        source: 'pressure',
        pumpUpS: cycle.pumpUpS,
        settleS: cycle.pumpedS,
        holdS: holdS < untilS ? holdS : null,
        ventS: cycle.ventS,
        endS: cycle.endS,
        misfit: Math.abs(Math.log(Math.max(level / spec.pressurePa, 1e-3))),
      })
    }
  }
  // Where two holds explain the same stretch of pressure, the one stated nearest to it is meant.
  found.sort((a, b) => a.misfit - b.misfit)
  const kept: HoldStages[] = []
  for (const { misfit: _, ...stages } of found) {
    const overlaps = kept.some((k) => (k.settleS ?? 0) < stages.endS && (stages.settleS ?? 0) < k.endS)
    if (!overlaps) kept.push(stages)
  }
  return kept.sort((a, b) => (a.settleS ?? 0) - (b.settleS ?? 0))
}

/** Least settle that a hold without marks is believed to have had, [s]. */
const leastSettleS = 10

/** Nobody marked when the hold began: it lasted its stated time up to the vent, or followed the stated settle where none is seen. */
function unmarkedHoldStart(pumpedS: number, ventS: number | null, spec: HoldSpec): number {
  const bySettle = pumpedS + spec.settleS
  if (ventS === null) return bySettle
  const byVent = ventS - spec.holdS
  return byVent >= pumpedS + leastSettleS ? byVent : bySettle
}

function lastSampleS(recording: Recording): number {
  let last = 0
  for (const { timeS } of recording.channels)
    if (timeS.length > 0) last = Math.max(last, timeS[timeS.length - 1])
  return last
}

/** Whether a liquid is under test. */
function isWet(system: System, { sections }: HoldSpec): boolean {
  return system.sections.some(({ id, medium }) => sections.includes(id) && isLiquid(medium))
}
