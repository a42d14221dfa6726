import type { System } from '#analysis/model/system.ts'
import type { TimedHold, TimedMark } from './evidence-order.ts'
import { leakProbability, openedEffect, workEffect } from './fitting-kinds.ts'
import type { EpochBreak } from './leak-problem.ts'
import { showsPressure } from './look-likelihood.ts'

/** An event that may have changed a path: it splits the path's history into two epochs. */
export interface EpochEvent {
  readonly timeNs: bigint
  readonly effect: EpochBreak
}

/** Probability that work opens a leak at any adjacent joint, and the most for one of them. Own figures. */
const besideTogether = 0.1
const besideMost = 0.02
/** A tight joint may begin to leak without work before a look finds it. Own figure. */
const unasked: EpochBreak = { cure: 0, unchanged: 1, harm: 0.02 }

/**
 * Events of each fitting, valve and section in the order of time: work on it, opening it to reach another, work next to it,
 * and the elapsed time between the last hold and a leak seen without a recording.
 */
export function epochEvents(
  system: System,
  marks: readonly TimedMark[],
  holds: readonly TimedHold[],
): ReadonlyMap<string, readonly EpochEvent[]> {
  const events = new Map<string, EpochEvent[]>()
  const add = (id: string, timeNs: bigint, effect: EpochBreak): void => {
    events.set(id, [...(events.get(id) ?? []), { timeNs, effect }])
  }
  for (const { timeNs, mark } of marks) {
    const { id } = mark
    if (id === null) continue
    if (mark.kind === 'look' && showsPressure(mark.fields.finding)) {
      if (!holds.some((h) => h.startNs <= timeNs && timeNs <= h.endNs)) add(id, timeNs, unasked)
    } else if (mark.kind === 'work') {
      add(id, timeNs, workEffect(mark.fields.action))
      const opened = jointsOpened(system, id)
      for (const joint of opened) {
        const kind = system.fittings.find((f) => f.id === joint)?.kind
        if (kind) add(joint, timeNs, openedEffect(leakProbability(system, kind)))
      }
      const home = system.fittings.find((f) => f.id === id)?.section
      const beside = [
        ...disturbedBy(system, id, '').keys(),
        ...system.fittings.filter((f) => f.section === home).map((f) => f.id),
      ].filter((other) => other !== id && !opened.includes(other))
      const harm = Math.min(besideMost, besideTogether / beside.length)
      for (const other of new Set(beside)) add(other, timeNs, { cure: 0, unchanged: 1, harm })
    }
  }
  return events
}

/** Joints opened to reach a fitting, recursively. */
function jointsOpened(system: System, fitting: string): string[] {
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

/** Whether work can be marked on the id: a fitting, a valve or a section. */
export function isKnownId(system: System, id: string): boolean {
  return [...system.fittings, ...system.valves, ...system.sections].some((known) => known.id === id)
}

/**
 * Fittings that work disturbs, each with the way: the fitting itself, the joints opened to reach it and the fittings
 * behind it; all fittings of the sections on both sides of a valve; all fittings of a section.
 */
export function disturbedBy(system: System, on: string, action: string): ReadonlyMap<string, string> {
  const valve = system.valves.find((v) => v.id === on)
  const sections = valve?.between ?? system.sections.filter((s) => s.id === on).map((s) => s.id)
  const disturbed = new Map<string, string>()
  for (const { id, section } of system.fittings)
    if (sections.includes(section)) disturbed.set(id, `disturbed by work on ${on} (${action}), next to it`)
  const opened = jointsOpened(system, on)
  for (const { id } of system.fittings)
    if (id === on) disturbed.set(id, `worked on (${action})`)
    else if (opened.includes(id)) disturbed.set(id, `opened to reach ${on} (${action})`)
    else if (jointsOpened(system, id).includes(on))
      disturbed.set(id, `disturbed by work on ${on} (${action}), in front of it`)
  return disturbed
}
