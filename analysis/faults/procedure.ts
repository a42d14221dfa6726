import type { Mark, Recording } from '#analysis/model/samples.ts'
import type { System } from '#analysis/model/system.ts'
import { holdCoverage } from '#analysis/model/system-graph.ts'
import type { HoldStages } from '#analysis/stages/hold-stages.ts'
import { allFaults, caution, type Faults, isVoid } from './fault.ts'

/** Valve marks older than this before pump-up belong to another session, [s]. */
const sessionS = 12 * 3600

/** Findings of a look under pressure that a tight joint does not give. */
const leaking: ReadonlySet<string> = new Set(['bubbles', 'seep', 'drip'])

/**
 * What hands did to the section, and eyes saw: work on a joint, a valve or plug moved during the hold, a valve left open before it. A joint
 * or valve that the file does not have may be any of the section's.
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
    const what = `Fitting ${mark.id ?? '(not named)'} was worked on (${mark.fields.action ?? 'work'})`
    parts.push(
      isVoid(
        'work-during-hold',
        `${what} during the hold, so it was not one condition that was held: vent, then work, then hold again. Never tighten under pressure.`,
      ),
    )
  }
  const pumpedS = stages.pumpUpS ?? stages.settleS ?? holdS
  const early = recording.marks.find(
    ({ kind, id, timeS }) => kind === 'work' && timeS > pumpedS && timeS <= holdS && concerns(id),
  )
  if (early !== undefined)
    parts.push(
      caution(
        'work-under-pressure',
        `Fitting ${early.id ?? '(not named)'} was worked on (${early.fields.action ?? 'work'}) under pressure, before the hold: never tighten under pressure. The hold is no proof of it: vent, and hold again.`,
      ),
    )
  const seen = recording.marks.filter(
    ({ kind, id, timeS, fields }) =>
      kind === 'look' &&
      timeS > pumpedS &&
      timeS < untilS &&
      concerns(id) &&
      leaking.has(String(fields.finding)),
  )
  if (seen.length > 0) {
    const where = [...new Set(seen.map(({ id }) => id ?? '(not named)'))].join(', ')
    parts.push(
      caution(
        'leak-seen',
        `Bubbles, a seep or a drip were seen at ${where} under this pressure: it leaks there, however little the gauge tells. Vent, put it right, and hold again.`,
      ),
    )
  }
  for (const mark of recording.marks) {
    if (mark.kind === 'plug' && inside(mark))
      parts.push(
        isVoid(
          'plug-moved',
          `A plug or cap (${mark.id ?? 'not named'}) was moved during the hold: hold again.`,
        ),
      )
  }
  const near = system.valves.filter(({ between }) => between.some((id) => reached.has(id)))
  const shut = new Map(near.map(({ id }) => [id, spec.shut.includes(id)]))
  const earliestS = pumpedS - sessionS
  const told = new Set<string>()
  for (const { kind, id, timeS, fields } of recording.marks) {
    if (kind !== 'valve' || typeof fields.open !== 'boolean' || timeS >= untilS || timeS < earliestS) continue
    const before = id === null ? undefined : shut.get(id)
    const during = timeS > holdS
    if (id === null || before === undefined) {
      if (during && !system.valves.some((v) => v.id === id))
        parts.push(
          isVoid(
            'valve-moved',
            `A valve that the system file does not have (${id ?? 'not named'}) was ${fields.open ? 'opened' : 'shut'} during the hold: it may be one of the section's. Name it as the file does, and hold again.`,
          ),
        )
      continue
    }
    if (during && before === fields.open)
      parts.push(
        isVoid(
          'valve-moved',
          `Valve ${id} was ${fields.open ? 'opened' : 'shut'} during the hold: hold again with the valves left alone.`,
        ),
      )
    else if (during && !fields.open && !told.has(id))
      parts.push(
        isVoid(
          'valve-moved',
          `Valve ${id} was marked shut only during the hold, and may have been open until then: hold again with the valves left alone.`,
        ),
      )
    shut.set(id, !fields.open)
    told.add(id)
  }
  for (const { id, name } of near) {
    // A move during the hold is told above.
    const moved = parts.some(({ voids }) => voids[0]?.message.startsWith(`Valve ${id} was`))
    if (spec.shut.includes(id) && shut.get(id) === false && !moved)
      parts.push(
        isVoid(
          'valve-open',
          `Valve ${id}${name ? ` (${name})` : ''} is to be shut for this hold but was marked open: shut it and hold again.`,
        ),
      )
  }
  for (const { code, message, bars } of coverage.problems)
    if (bars && (code === 'not-closed' || code === 'open-to-outside')) parts.push(caution(code, message))
  const settled = stages.settleS === null ? null : holdS - stages.settleS
  if (stages.source === 'marks' && settled !== null && settled < 0.9 * spec.settleS)
    parts.push(
      caution(
        'settle-shortened',
        `It settled for ${Math.round(settled)} s of the stated ${spec.settleS} s: more of the heat of pumping is left in the hold, and the interval is wider for it.`,
      ),
    )
  return allFaults(parts)
}
