import type { HoldSpec, System } from '#analysis/model/system.ts'
import { figuresIn, unitsOfSystem } from '#analysis/reasons/figures.ts'
import { whyNotPlanned } from '#analysis/reasons/hold-cautions.ts'
import { cheapestCover } from './cheapest-cover.ts'
import { gaugePlacings, type Isolation, possibleIsolations } from './isolations.ts'
import { reachesPressure, requiredPressures } from './proof-of-fittings.ts'

/** Time to move a gauge to another place without a leak, [s]. Own figure. */
export const moveS = 180
/** Time to put a plug or cap in, take it out and mark both, [s]. Own figure. */
export const plugS = 120

export interface ClosingHold {
  readonly isolation: Isolation
  /** Open fittings that the hold would prove. */
  readonly proves: readonly string[]
  /** Plugs and caps in use during the hold. */
  readonly plugs: readonly string[]
  /** Channels that measure it; a movable gauge at one of its places. */
  readonly channels: readonly string[]
  /** Rig used to pump it up; null if the file has none. */
  readonly rig: string | null
}

/** Current state of the bench: plugs that are in, rigs proven today, and present places of movable gauges. */
export interface StandingReady {
  readonly plugs: ReadonlySet<string>
  readonly rigs: ReadonlySet<string>
  readonly places: ReadonlySet<string>
}

/**
 * The holds that prove every open fitting in the least time. Holds of the file come first, because they have an allowance;
 * other isolations serve only fittings that none of them covers.
 */
export function closingHolds(system: System, unproven: readonly string[], ready: StandingReady) {
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
    if (proves.length === 0) return []
    const rig = rigOf(spec, alone)
    return gaugePlacings(system, isolation.measured).map((channels) => {
      return { isolation, proves, plugs, channels, rig }
    })
  })
  const named = new Set(candidates.flatMap((c) => (c.isolation.hold === null ? [] : c.proves)))
  const offered = candidates.map((c) =>
    c.isolation.hold === null ? { ...c, proves: c.proves.filter((id) => !named.has(id)) } : c,
  )
  const moved = new Map(system.channels.flatMap(({ id, movable }) => (movable ? [[id, movable.id]] : [])))
  const rigChannels = new Map(
    [...alone].map(([id, { measured }]) => [id, gaugePlacings(system, measured)[0]]),
  )
  // A gauge that first proves the rig has left its present place.
  const leaving = [...rigChannels].flatMap(([id, channels]) => (ready.rigs.has(id) ? [] : channels))
  const sits = (id: string): boolean =>
    ready.places.has(id) &&
    (leaving.includes(id) || !leaving.some((other) => moved.get(other) === moved.get(id)))
  /** What a hold needs once, with its time: plugs, moved gauges, and the proof of its rig. */
  const needsOf = ({ plugs, channels, rig }: ClosingHold): [id: string, seconds: number][] => {
    const toProve = rig === null || ready.rigs.has(rig) ? null : rig
    const gauges = [...channels, ...(rigChannels.get(toProve ?? '') ?? [])].filter((id) => moved.has(id))
    return [
      ...plugs.map((id): [string, number] => [id, ready.plugs.has(id) ? 0 : plugS]),
      ...gauges.map((id): [string, number] => [id, sits(id) ? 0 : moveS]),
      ...(toProve === null ? [] : [[toProve, alone.get(toProve)?.seconds ?? 0] as [string, number]]),
    ]
  }
  const cover = cheapestCover(
    unproven,
    offered.map((each) => ({
      members: each.proves,
      cost: each.isolation.seconds,
      once: needsOf(each).map(([id]) => id),
    })),
    new Map(offered.flatMap(needsOf)),
  )
  const holds = cover.chosen.map((c) => offered[c]).sort((a, b) => b.proves.length - a.proves.length)
  const paid = new Map(holds.flatMap(needsOf))
  const coverable = new Set(offered.flatMap((o) => o.proves))
  return {
    holds,
    /** Holds of rigs alone, which come first: those not proven today. */
    rigs: [...alone].flatMap(([id, isolation]): ClosingHold[] =>
      !ready.rigs.has(id) && holds.some((h) => h.rig === id)
        ? [{ isolation, proves: [], plugs: [], channels: rigChannels.get(id)!, rig: null }]
        : [],
    ),
    /** Number of gauge moves, each place once. */
    moves: [...paid].filter(([id, seconds]) => moved.has(id) && seconds > 0).length,
    /** Set-ups, plugs, moves of gauges and rig, [s]. */
    seconds: cover.cost,
    /** Lower bound of the time, [s]. */
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

/** The rig that a hold names, else the only rig of the file that has its own hold. */
function rigOf(spec: HoldSpec | null, alone: ReadonlyMap<string, Isolation>): string | null {
  if (spec !== null && spec.rig !== null) return spec.rig
  return alone.size === 1 ? [...alone.keys()][0] : null
}

/** Whether a valve is a cap to the open air, put in for a hold and taken out after it. */
export function isPlug(system: System, id: string): boolean {
  const valve = system.valves.find((v) => v.id === id)
  return valve !== undefined && valve.between.length === 1 && (valve.kind === 'cap' || valve.kind === null)
}

/** Why a hold cannot start: a limit that is exceeded, not stated or too close. */
function whyRefused(spec: HoldSpec, system: System): string | null {
  const words = figuresIn(unitsOfSystem(system, spec.sections))
  const rig = system.sections.find(({ id }) => id === spec.rig)
  if (rig && rig.maxPressurePa !== null && spec.pressurePa > rig.maxPressurePa)
    return `${spec.id} is not planned: its ${words.pressure(spec.pressurePa)} is more than the limit of ${rig.id}, ${words.pressure(rig.maxPressurePa)}.`
  return whyNotPlanned(spec, system, words.pressure)
}

/** False for a suction hold of the file if a pressure hold of the file covers one of its sections. */
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
