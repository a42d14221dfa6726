import type { HoldSpec, System } from '#analysis/model/system.ts'
import { figuresIn, unitsOfSystem } from '#analysis/reasons/figures.ts'
import { whyNotPlanned } from '#analysis/reasons/hold-cautions.ts'
import { cheapestCover } from './cheapest-cover.ts'
import { type Isolation, possibleIsolations } from './isolations.ts'
import { reachesPressure, requiredPressures } from './proof-of-fittings.ts'

/** Putting a plug or cap in, taking it out again and marking both, [s]. Own figure. */
export const plugS = 120

export interface ClosingHold {
  readonly isolation: Isolation
  /** Open fittings that it would prove. */
  readonly proves: readonly string[]
  /** Plugs and caps that stand in it. */
  readonly plugs: readonly string[]
  /** Rig that it is pumped up with; null where the file knows none. */
  readonly rig: string | null
}

export interface ClosingHolds {
  readonly holds: readonly ClosingHold[]
  /** Holds of the rigs alone that come first: those not proven today. */
  readonly rigs: readonly Isolation[]
  /** Set-ups, plugs and rig, [s]. */
  readonly seconds: number
  /** No other choice takes less, [s]. */
  readonly boundS: number
  readonly exact: boolean
  readonly uncoverable: readonly { readonly id: string; readonly why: string }[]
}

/** What stands ready already: plugs that are in, rigs proven today. */
export interface StandingReady {
  readonly plugs: ReadonlySet<string>
  readonly rigs: ReadonlySet<string>
}

/**
 * The holds that prove every open fitting in the least time. Holds of the file come first, for they carry an allowance;
 * another isolation is asked for only where none of them covers a fitting.
 */
export function closingHolds(
  system: System,
  unproven: readonly string[],
  ready: StandingReady = { plugs: new Set(), rigs: new Set() },
): ClosingHolds {
  const required = requiredPressures(system)
  const refused = new Map<string, string>()
  const isolations = possibleIsolations(system)
  const alone = rigHolds(system, isolations)
  const candidates = isolations.flatMap((isolation): ClosingHold[] => {
    const spec = system.holds.find((h) => h.id === isolation.hold) ?? null
    const why = spec && whyRefused(spec, system)
    if (why) for (const id of isolation.covered) refused.set(id, why)
    if (why || !provesByPressure(system, spec, isolation)) return []
    const asked = (id: string): boolean =>
      isolation.pressurePa === null ||
      reachesPressure(isolation.pressurePa, required.get(id) ?? isolation.pressurePa)
    const proves = isolation.covered.filter((id) => unproven.includes(id) && asked(id))
    const plugs = isolation.shut.filter((id) => isPlug(system, id))
    return proves.length === 0 ? [] : [{ isolation, proves, plugs, rig: rigOf(spec, alone) }]
  })
  const named = new Set(candidates.flatMap((c) => (c.isolation.hold === null ? [] : c.proves)))
  const offered = candidates.map((c) =>
    c.isolation.hold === null ? { ...c, proves: c.proves.filter((id) => !named.has(id)) } : c,
  )
  const once = new Map<string, number>()
  for (const { plugs, rig } of offered) {
    for (const id of plugs) once.set(id, ready.plugs.has(id) ? 0 : plugS)
    if (rig !== null) once.set(rig, ready.rigs.has(rig) ? 0 : (alone.get(rig)?.seconds ?? 0))
  }
  const cover = cheapestCover(
    unproven,
    offered.map(({ isolation, proves, plugs, rig }) => ({
      members: proves,
      cost: isolation.seconds,
      once: rig === null ? plugs : [...plugs, rig],
    })),
    once,
  )
  const holds = cover.chosen.map((c) => offered[c])
  const coverable = new Set(offered.flatMap((o) => o.proves))
  return {
    holds,
    rigs: [...alone].flatMap(([id, isolation]) =>
      !ready.rigs.has(id) && holds.some((h) => h.rig === id) ? [isolation] : [],
    ),
    seconds: cover.cost,
    boundS: cover.bound,
    exact: cover.exact,
    uncoverable: unproven
      .filter((id) => !coverable.has(id))
      .map((id) => ({ id, why: refused.get(id) ?? whyUncoverable(system, id) })),
  }
}

/** The hold of each rig alone, at the highest pressure of its holds. */
function rigHolds(system: System, isolations: readonly Isolation[]): ReadonlyMap<string, Isolation> {
  const named = new Set(system.holds.flatMap(({ rig }) => rig ?? []))
  const alone = isolations
    .filter(({ hold, sections }) => {
      const spec = system.holds.find(({ id }) => id === hold)
      return spec !== undefined && sections.length === 1 && whyRefused(spec, system) === null
    })
    .filter(
      ({ sections: [id] }) => named.has(id) || system.sections.some((s) => s.id === id && s.kind === 'rig'),
    )
    .sort((a, b) => (a.pressurePa ?? 0) - (b.pressurePa ?? 0))
  return new Map(alone.map((isolation) => [isolation.sections[0], isolation]))
}

/** The rig that a hold names, else the only one of the file that has a hold of its own. */
function rigOf(spec: HoldSpec | null, alone: ReadonlyMap<string, Isolation>): string | null {
  if (spec !== null && spec.rig !== null) return spec.rig
  return alone.size === 1 ? [...alone.keys()][0] : null
}

/** A cap to the open air goes in for a hold and comes out after it. */
export function isPlug(system: System, id: string): boolean {
  const valve = system.valves.find((v) => v.id === id)
  return valve !== undefined && valve.between.length === 1 && (valve.kind === 'cap' || valve.kind === null)
}

/** What would stop the start: a limit that is passed, not stated or too near. */
function whyRefused(spec: HoldSpec, system: System): string | null {
  const words = figuresIn(unitsOfSystem(system, spec.sections))
  const rig = system.sections.find(({ id }) => id === spec.rig)
  if (rig && rig.maxPressurePa !== null && spec.pressurePa > rig.maxPressurePa)
    return `${spec.id} is not planned: its ${words.pressure(spec.pressurePa)} is more than the limit of ${rig.id}, ${words.pressure(rig.maxPressurePa)}.`
  return whyNotPlanned(spec, system, words.pressure)
}

/** A suction hold of the file is proposed only for what no pressure hold of the file covers. */
function provesByPressure(system: System, spec: HoldSpec | null, { sections }: Isolation): boolean {
  if (spec === null || spec.pressurePa >= 0) return true
  const byPressure = new Set(system.holds.filter((h) => h.pressurePa > 0).flatMap((h) => h.sections))
  return sections.every((s) => !byPressure.has(s))
}

function whyUncoverable(system: System, id: string): string {
  const section = system.fittings.find((f) => f.id === id)?.section ?? ''
  const gauge = system.channels.some((c) => c.section === section && c.measures.endsWith('-pressure'))
  return gauge
    ? `No set of valves closes ${section}: name the valve or cap that does.`
    : `No pressure channel sees ${section}, alone or joined to a neighbor: fit a gauge or name the channel.`
}
