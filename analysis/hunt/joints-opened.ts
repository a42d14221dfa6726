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

/** Fittings that lie behind a joint: work on it may have moved them. */
export function fittingsBehind(system: System, joint: string): string[] {
  return system.fittings
    .filter((f) => f.id !== joint && jointsOpened(system, f.id).includes(joint))
    .map((f) => f.id)
}
