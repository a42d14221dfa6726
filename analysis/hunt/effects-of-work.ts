import type { System } from '#analysis/model/system.ts'
import type { TimedMark } from './evidence-order.ts'
import { openedEffect, type WorkEffect, workEffect } from './fitting-kinds.ts'
import { jointsOpened } from './joints-opened.ts'

/** What happened to each fitting and valve, in the order of time: work on it, or being opened to reach another. */
export function effectsOfWork(
  system: System,
  marks: readonly TimedMark[],
): ReadonlyMap<string, readonly { timeNs: bigint; effect: WorkEffect }[]> {
  const effects = new Map<string, { timeNs: bigint; effect: WorkEffect }[]>()
  const add = (id: string, timeNs: bigint, effect: WorkEffect): void => {
    effects.set(id, [...(effects.get(id) ?? []), { timeNs, effect }])
  }
  for (const { timeNs, mark } of marks) {
    if (mark.kind !== 'work' || mark.id === null) continue
    add(mark.id, timeNs, workEffect(mark.fields.action))
    for (const joint of jointsOpened(system, mark.id)) {
      const kind = system.fittings.find((f) => f.id === joint)?.kind
      if (kind) add(joint, timeNs, openedEffect(kind))
    }
  }
  return effects
}
