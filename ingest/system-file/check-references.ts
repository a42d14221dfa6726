import type { Check, HoldSpec, Section, System } from '#analysis/model/system.ts'
import { isLiquid } from '#analysis/physics/fuel-properties.ts'
import { editsBetween } from '#analysis/physics/units.ts'
import { references } from './edit-system-file.ts'
import { type FileView, type MapView, nearestKey } from './file-view.ts'

/** Every entry of a list with its place in the file; `value` is null when it has an error. */
export type Placed<T> = readonly {
  readonly id: string | null
  readonly value: T | null
  readonly view: MapView
}[]

export interface PlacedSystem {
  readonly channels: Placed<System['channels'][number]>
  readonly sections: Placed<Section>
  readonly fittings: Placed<System['fittings'][number]>
  readonly valves: Placed<System['valves'][number]>
  readonly holds: Placed<HoldSpec>
  readonly checks: Placed<Check>
}

/** Checks between the parts of a file: names that must exist, and values that must agree. */
export function checkReferences(file: FileView, system: PlacedSystem): void {
  const sections = system.sections.flatMap(({ value }) => (value === null ? [] : [value]))

  for (const [what, list] of Object.entries(system) as [string, Placed<unknown>][]) checkIds(what, list)
  for (const { list, key, of } of references) {
    const known = idsOf(system[of])
    for (const { view } of system[list])
      if (key === 'between') checkBetween(file, view, known)
      else mustExist(file, view, key, of.slice(0, -1), known)
  }
  checkMoved(system.channels)
  for (const { id, view } of system.fittings)
    if (view.names('behind').some(({ text }) => text === id)) view.error('behind', 'cannot be behind itself')
  for (const { value, view } of system.checks) {
    const section = sections.find(({ id }) => id === value?.section)
    if (section !== undefined && value?.kind === 'known-leak' && isLiquid(section.medium))
      view.error('kind', `section "${section.id}" holds a liquid: a known leak is for a gas`)
  }
  for (const { value, view } of system.holds) {
    for (const { text, node } of view.names('shut'))
      if (system.valves.some(({ value: valve }) => valve?.id === text && valve.kind === 'gauge-cock'))
        file.error(node, `${view.what}: shut: "${text}" is a gauge cock, which stays open in a hold`)
    if (value !== null) checkHold(view, value, sections)
  }
}

/** Maximum errors that include the nearest known name. */
const hintsAtMost = 100

function idsOf(placed: Placed<unknown>): string[] {
  return placed.flatMap(({ id }) => (id === null ? [] : [id]))
}

function checkIds(what: string, list: Placed<unknown>): void {
  const seen = new Set<string>()
  for (const { id, view } of list) {
    if (id === null) continue
    // As an object key such a name accesses the prototype.
    if (id in Object.prototype || id === 'prototype')
      view.error('id', `"${id}" is a reserved word; choose another id`)
    if (seen.has(id)) view.error('id', `"${id}" is already taken by another of the ${what}`)
    seen.add(id)
  }
}

/** A logger field is one sensor, which cannot be on two sections at once. */
function checkMoved(channels: PlacedSystem['channels']): void {
  const seen = new Map<string, { readonly id: string; readonly section: string | null }>()
  for (const { value, view } of channels) {
    if (value === null || value.movable !== undefined) continue
    const { measurement, field, tags } = value.from
    const key = JSON.stringify([measurement, field, Object.entries(tags).sort()])
    const first = seen.get(key)
    if (first === undefined) seen.set(key, value)
    else if (first.section !== value.section)
      view.error(
        'from',
        `is that of channel ${first.id} on another section; for one gauge that is moved write one channel with places: [${first.section}, ${value.section}] instead of section`,
      )
  }
}

/** The name or names under `key` must be declared in this file. */
function mustExist(file: FileView, view: MapView, key: string, what: string, known: readonly string[]): void {
  for (const { text, node } of view.names(key)) {
    if (known.includes(text)) continue
    // This many errors are not typing mistakes, and each comparison with all names costs time.
    const nearest = file.errors.length < hintsAtMost ? nearestKey(text, known) : null
    const hint = nearest === null ? '' : `; the nearest is "${nearest}"`
    file.error(node, `${view.what}: ${key}: there is no ${what} "${text}"${hint}`)
  }
}

/**
 * A valve may separate a section from a place outside the file (the firewall side, the outside), but not two such
 * places. A name close to a section's counts as a typing mistake.
 */
function checkBetween(file: FileView, valve: MapView, known: readonly string[]): void {
  const between = valve.names('between')
  const unknown = between.filter(({ text }) => !known.includes(text))
  if (between.length > 0 && unknown.length === between.length) {
    const named = between.map(({ text }) => `"${text}"`).join(' or ')
    valve.error('between', `there is no section ${named} in this file`)
    return
  }
  for (const { text, node } of unknown) {
    if (file.errors.length >= hintsAtMost) return
    const nearest = nearestKey(text, known)
    if (nearest !== null && editsBetween(text, nearest) <= 2) {
      file.error(node, `${valve.what}: between: there is no section "${text}"; the nearest is "${nearest}"`)
    }
  }
}

function checkHold(view: MapView, hold: HoldSpec, sections: readonly Section[]): void {
  if (hold.sections.length === 0) view.error('sections', 'names no section')
  if (new Set(hold.sections).size !== hold.sections.length) view.error('sections', 'names a section twice')
  const under = [...hold.sections, ...(hold.rig === null ? [] : [hold.rig])]
  for (const section of sections.filter(({ id }) => under.includes(id))) {
    const { id, maxPressurePa, maxVacuumPa, medium } = section
    if (maxPressurePa !== null && hold.pressurePa > maxPressurePa) {
      view.error('pressure', `is above the max-pressure of section "${id}"`)
    }
    if (maxVacuumPa !== null && -hold.pressurePa > maxVacuumPa) {
      view.error('pressure', `is a deeper vacuum than the max-vacuum of section "${id}"`)
    }
    if (hold.allow.kind === 'gas-leak' && isLiquid(medium))
      view.error('allow', `section "${id}" holds a liquid (${medium}): state the leak in mL/min`)
    if (hold.allow.kind === 'liquid-leak' && !isLiquid(medium))
      view.error('allow', `section "${id}" holds a gas (${medium}): state the leak in scc/min`)
  }
}
