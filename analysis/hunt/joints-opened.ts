import type { System } from '#analysis/model/system.ts'

/** Joints opened to reach a fitting, and those opened to reach these in turn. */
export function jointsOpened(system: System, fitting: string): string[] {
  const opened = new Set<string>()
  const open = [fitting]
  for (let id = open.pop(); id !== undefined; id = open.pop())
    for (const joint of system.fittings.find((f) => f.id === id)?.behind ?? [])
      if (joint !== fitting && !opened.has(joint)) {
        opened.add(joint)
        open.push(joint)
      }
  return [...opened]
}

/** True for what work can be marked on: a fitting, a valve or a section. */
export function isKnownId(system: System, id: string): boolean {
  return [...system.fittings, ...system.valves, ...system.sections].some((known) => known.id === id)
}

/**
 * Fittings that work disturbs, each with how: the fitting itself, the joints opened to reach it and the fittings that lie
 * behind it; all fittings of the sections that a valve parts; all fittings of a section.
 */
export function disturbedBy(system: System, on: string, action: string): ReadonlyMap<string, string> {
  const valve = system.valves.find((v) => v.id === on)
  const sections = valve?.between ?? system.sections.filter((s) => s.id === on).map((s) => s.id)
  const disturbed = new Map<string, string>()
  for (const { id, section } of system.fittings)
    if (sections.includes(section))
      disturbed.set(id, `disturbed by work on ${on} (${action}), beside which it lies`)
  const opened = jointsOpened(system, on)
  for (const { id } of system.fittings)
    if (id === on) disturbed.set(id, `worked on (${action})`)
    else if (opened.includes(id)) disturbed.set(id, `opened to reach ${on} (${action})`)
    else if (jointsOpened(system, id).includes(on))
      disturbed.set(id, `disturbed by work on ${on} (${action}), behind which it lies`)
  return disturbed
}
