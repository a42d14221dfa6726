import type { Mark, Recording } from '#analysis/model/samples.ts'
import type { System } from '#analysis/model/system.ts'
import { holdCoverage } from '#analysis/model/system-graph.ts'
import { parseQuantity } from '#analysis/physics/quantity.ts'
import type { HoldStages } from '#analysis/stages/stages-from-pressure.ts'
import { allFaults, blocksPass, caution, type Faults, voidHold } from './fault.ts'
import type { GaugeView } from './gauge-view.ts'

/** Valve marks older than this before pump-up belong to another session, [s]. */
const sessionS = 12 * 3600

/** Findings under pressure that a tight joint does not give. */
const leaking: ReadonlySet<string> = new Set(['bubbles', 'seep', 'drip'])

/**
 * Faults from the operator's marks: work on a joint, a valve or plug moved during the hold, a valve left open before it.
 * A joint or valve that is not in the file may be any of the section's.
 */
export function procedureFaults(recording: Recording, system: System, stages: HoldStages): Faults {
  const { spec, holdS, ventS, endS } = stages
  if (holdS === null) return allFaults([])
  const untilS = ventS ?? endS
  const coverage = holdCoverage(system, spec)
  const reached = new Set(coverage.bodies.flatMap(({ sections }) => sections))
  const inside = ({ timeS }: Mark): boolean => timeS > holdS && timeS < untilS
  const parts: Faults[] = []
  const fittings = new Set(coverage.reached)
  const concerns = (id: string | null): boolean =>
    id === null || fittings.has(id) || !system.fittings.some((f) => f.id === id)
  for (const mark of recording.marks) {
    if (mark.kind !== 'work' || !inside(mark) || !concerns(mark.id)) continue
    parts.push(voidHold('work-during-hold', workedOn(mark)))
  }
  const pumpedS = stages.pumpUpS ?? stages.settleS ?? holdS
  const early = recording.marks.find(
    ({ kind, id, timeS }) => kind === 'work' && timeS > pumpedS && timeS <= holdS && concerns(id),
  )
  if (early !== undefined) parts.push(caution('work-under-pressure', workedOn(early)))
  const seen = recording.marks.filter(
    ({ kind, id, timeS, fields }) =>
      kind === 'look' &&
      timeS > pumpedS &&
      timeS < untilS &&
      concerns(id) &&
      leaking.has(String(fields.finding)),
  )
  if (seen.length > 0) {
    parts.push(caution('leak-seen', { fittings: [...new Set(seen.map(({ id }) => id ?? ''))] }))
  }
  for (const mark of recording.marks) {
    if (mark.kind === 'plug' && inside(mark)) parts.push(voidHold('plug-moved', { plug: mark.id ?? '' }))
  }
  const near = system.valves.filter(({ between }) => between.some((id) => reached.has(id)))
  const shut = new Map(near.map(({ id }) => [id, spec.shut.includes(id)]))
  const earliestS = pumpedS - sessionS
  const marked = new Set<string>()
  const movedInHold = new Set<string>()
  for (const { kind, id, timeS, fields } of recording.marks) {
    if (kind !== 'valve' || typeof fields.open !== 'boolean' || timeS >= untilS || timeS < earliestS) continue
    const valve = id ?? ''
    const before = shut.get(valve)
    const during = timeS > holdS
    const how = fields.open ? 'opened' : 'shut'
    if (before === undefined) {
      if (during && !system.valves.some((v) => v.id === valve))
        parts.push(voidHold('valve-moved', { valve, how, known: false }))
      continue
    }
    if (during && before === fields.open) {
      movedInHold.add(valve)
      parts.push(voidHold('valve-moved', { valve, how, known: true }))
    } else if (during && !fields.open && !marked.has(valve))
      parts.push(voidHold('valve-moved', { valve, how: 'shut-late', known: true }))
    shut.set(valve, !fields.open)
    marked.add(valve)
  }
  for (const { id, name, kind } of near) {
    if (kind === 'gauge-cock' && shut.get(id) === true && !movedInHold.has(id))
      parts.push(voidHold('gauge-cock-shut', { valve: id }))
    if (spec.shut.includes(id) && shut.get(id) === false && !movedInHold.has(id))
      parts.push(voidHold('valve-open', { valve: id, name }))
  }
  for (const { code, message, isBlocking } of coverage.problems)
    if (isBlocking && (code === 'not-closed' || code === 'open-to-outside'))
      parts.push(caution(code, { detail: message }))
  const settled = stages.settleS === null ? null : holdS - stages.settleS
  if (stages.source === 'marks' && settled !== null && settled < 0.9 * spec.settleS)
    parts.push(caution('settle-shortened', { seconds: settled, stated_s: spec.settleS }))
  const heldS = ventS === null ? spec.holdS : ventS - holdS
  if (stages.source === 'marks' && heldS < 0.99 * spec.holdS && spec.time !== 'until-decided') {
    const vent = recording.marks.find(
      ({ kind, timeS, fields }) => kind === 'stage' && timeS === ventS && fields.name === 'vent',
    )
    const why = String(vent?.fields.reason ?? '')
    parts.push(caution('ended-early', { seconds: heldS, stated_s: spec.holdS, why }))
  }
  for (const { kind, timeS, fields } of recording.marks) {
    // An answer can precede the next reading: the loss and the vent then have the same time.
    if (kind !== 'fault' || timeS < pumpedS || timeS > untilS) continue
    const { code } = fields
    if (code === 'interrupted' || code === 'pressure-lost')
      parts.push(voidHold(code, { why: String(fields.text ?? '') }))
  }
  return allFaults(parts)
}

/** A sealant not yet cured at the start of the hold: the pressure moves it, and a joint that is tight now may leak later. */
export function sealantCuring({ section, joined, holdS, recording, system }: GaugeView): Faults {
  for (const { kind, id, timeS, fields } of recording.marks) {
    const fitting = system.fittings.find((one) => one.id === id)
    if (kind !== 'work' || fitting === undefined || fields.cure === undefined) continue
    if (fitting.section !== section.id && !joined.includes(fitting.section)) continue
    const cure = parseQuantity(String(fields.cure), 'time')
    const leftS = 'fault' in cure ? Number.NaN : timeS + cure.value - holdS
    // An unreadable cure time counts as not over.
    if (timeS < holdS && !(leftS <= 0))
      return blocksPass('sealant-curing', {
        fitting: fitting.id,
        seconds: Number.isNaN(leftS) ? null : leftS,
      })
  }
  return allFaults([])
}

function workedOn({ id, fields }: Mark): { fitting: string; action: string } {
  return { fitting: id ?? '', action: String(fields.action ?? 'work') }
}
