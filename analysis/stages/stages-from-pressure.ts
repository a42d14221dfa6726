import type { Recording } from '#analysis/model/samples.ts'
import type { HoldSpec, System } from '#analysis/model/system.ts'
import { isLiquid } from '#analysis/physics/fuel-properties.ts'
import { pressureSignal } from '#analysis/signal/pressure-signal.ts'
import { cyclesInPressure, type PressureCycle } from './cycles-in-pressure.ts'

type Candidate = ReturnType<typeof candidates>[number]

/** Stated pressures closer than this are indistinguishable by the gauge, as a ratio's logarithm. */
const sameLevel = 0.08

/** The holds of a recording without marks, in order of time. */
export function stagesFromPressure(
  recording: Recording,
  system: System,
  onlyHold: string | null,
): HoldStages[] {
  const found = system.holds
    .filter(({ id }) => onlyHold === null || id === onlyHold)
    .flatMap((spec) => candidates(recording, system, spec))
  // If two holds explain the same interval, prefer the nearest stated pressure, then the hold with more measured sections.
  found.sort((a, b) => {
    const alike = Math.abs(a.misfit - b.misfit) < sameLevel
    return (alike ? b.seen - a.seen : 0) || a.misfit - b.misfit
  })
  const kept: Candidate[] = []
  const others = new Map<Candidate, string[]>()
  for (const candidate of found) {
    const rival = kept.find(
      (k) => meet(k.stages, candidate.stages) && share(k.stages.spec, candidate.stages.spec),
    )
    if (rival === undefined) kept.push(candidate)
    else if (Math.abs(rival.misfit - candidate.misfit) < sameLevel && rival.seen === candidate.seen)
      others.set(rival, [...(others.get(rival) ?? []), candidate.stages.spec.id])
  }
  return kept
    .map((k) => (others.has(k) ? { ...k.stages, mayBe: others.get(k) } : k.stages))
    .sort((a, b) => (a.settleS ?? 0) - (b.settleS ?? 0))
}

/** Stages, misfit, and number of sections of the hold whose own gauge showed pressure meanwhile. */
function candidates(recording: Recording, system: System, spec: HoldSpec) {
  const signal = pressureSignal(recording, system, spec)
  if (signal === null) return []
  return cyclesInPressure(signal, spec, isWet(system, spec)).flatMap((cycle) => {
    const untilS = cycle.ventS ?? cycle.endS
    const levels = spec.sections.flatMap((id) => {
      const own = pressureSignal(recording, system, { sections: [id] })
      const level = own?.meanGauge(cycle.pumpedS, untilS) ?? null
      return level === null ? [] : [level / spec.pressurePa]
    })
    // A section at atmospheric pressure was not pumped up, so this is not the hold.
    if (levels.some((share) => share < 0.3)) return []
    const holdS = unmarkedHoldStart(cycle, spec)
    const level = signal.meanGauge(cycle.pumpedS, untilS) ?? spec.pressurePa
    const stages: HoldStages = {
      spec,
      source: 'pressure',
      pumpUpS: cycle.pumpUpS,
      settleS: cycle.pumpedS,
      holdS: holdS < untilS ? holdS : null,
      ventS: cycle.ventS,
      endS: cycle.endS,
    }
    const misfit = Math.abs(Math.log(Math.max(level / spec.pressurePa, 1e-3)))
    return [{ stages, misfit, seen: levels.length }]
  })
}

function meet(a: HoldStages, b: HoldStages): boolean {
  return (a.settleS ?? 0) < (b.ventS ?? b.endS) && (b.settleS ?? 0) < (a.ventS ?? a.endS)
}

function share(a: HoldSpec, b: HoldSpec): boolean {
  return a.sections.some((id) => b.sections.includes(id))
}

/** Least settle assumed for a hold without marks, [s]. */
const leastSettleS = 10

/** Start of an unmarked hold: its stated time before the vent, or the end of the stated settle if no vent is seen. */
function unmarkedHoldStart({ pumpedS, ventS }: PressureCycle, spec: HoldSpec): number {
  const bySettle = pumpedS + spec.settleS
  if (ventS === null) return bySettle
  const byVent = ventS - spec.holdS
  return byVent >= pumpedS + leastSettleS ? byVent : bySettle
}

/** Whether a liquid is under test. */
export function isWet(system: System, { sections }: HoldSpec): boolean {
  return system.sections.some(({ id, medium }) => sections.includes(id) && isLiquid(medium))
}

/** Times of the stages of one hold, [s] from the recording's start; null where a stage was not seen. */
export interface HoldStages {
  /** For a hold that is not in the system file, only the id is valid. */
  readonly spec: HoldSpec
  readonly source: 'marks' | 'pressure'
  readonly pumpUpS: number | null
  readonly settleS: number | null
  /** Null: the hold was never begun. */
  readonly holdS: number | null
  readonly ventS: number | null
  /** Last moment that belongs to this hold: its end mark, the next pump-up or the recording's end. */
  readonly endS: number
  /** Other holds of the file that match the same pressure, where no mark names the hold. */
  readonly mayBe?: readonly string[]
}
