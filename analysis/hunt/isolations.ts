import { type HoldSpec, type System, unstatedHold } from '#analysis/model/system.ts'
import { type Body, holdCoverage, isOneWay } from '#analysis/model/system-graph.ts'

/** A possible hold: connected sections with every valve around them shut. */
export type Isolation = Readonly<NonNullable<ReturnType<typeof fromHold>>>
export type SeenTogether = Isolation['measured'][number]

/** Most isolations; larger ones are then left out. A system of 12 sections in a row has 78. */
const mostIsolations = 1000
/** Time to pump up and set valves, [s]. Own figure. */
const handlingS = 180
/** Settle and hold time if the file has no hold to take them from, [s]. */
const defaultHoldS = 720

/** Every hold that the system allows: those of the file first, then each connected group of sections that has a gauge. */
export function possibleIsolations(system: System): Isolation[] {
  const found: Isolation[] = []
  const seen = new Set<string>()
  for (const hold of system.holds) {
    const isolation = fromHold(system, hold, hold.id, handlingS + hold.settleS + hold.holdS)
    if (isolation === null) continue
    found.push(isolation)
    if (isolation.measured.length === 1) seen.add(isolation.covered.join('\n'))
  }
  const seconds = typicalSeconds(system)
  const groups = connectedGroups(system)
  found.push(...partitions(system, groups, seconds))
  for (const sections of groups) {
    const isolation = fromGroup(system, sections, seconds)
    if (isolation === null || isolation.covered.length === 0) continue
    const key = isolation.covered.join('\n')
    if (seen.has(key)) continue
    seen.add(key)
    found.push(isolation)
  }
  return found
}

/**
 * The largest groups, pumped up together with every valve then shut: each gauge measures its own section, all in the time
 * of one hold.
 */
function partitions(system: System, groups: readonly string[][], seconds: number): Isolation[] {
  const out: Isolation[] = []
  for (const sections of [...groups].sort((a, b) => b.length - a.length)) {
    if (out.some((o) => sections.every((s) => o.sections.includes(s)))) continue
    const valves = system.valves.filter((v) => v.between.some((s) => sections.includes(s)))
    const shut = valves.map((v) => v.id)
    const isolation = fromGroup(system, sections, seconds, shut)
    if (isolation !== null && isolation.measured.length > 1) out.push(isolation)
  }
  return out
}

/** Isolation of connected sections with the valves around them shut, or with the named ones; null if it cannot be held. */
function fromGroup(
  system: System,
  sections: readonly string[],
  seconds: number,
  named?: readonly string[],
): Isolation | null {
  const around = closingValves(system, sections)
  const pressurePa = commonPressure(system, sections)
  if (around === null || pressurePa === 'none') return null
  const hold = { ...unstatedHold, sections, shut: named ?? around, pressurePa: pressurePa ?? 0 }
  return fromHold(system, hold, null, seconds)
}

function fromHold(system: System, hold: HoldSpec, id: string | null, seconds: number) {
  const coverage = holdCoverage(system, hold)
  if (coverage.problems.some((p) => p.isBlocking)) return null
  const measured = coverage.bodies
    .filter((b) => b.channels.length > 0)
    .map((b) => ({
      sections: b.sections,
      channels: b.channels,
      fittings: b.fittings,
      /** Shut valves that would show as a leak if they pass gas. */
      valves: coverage.boundary.filter((v) => b.sections.includes(v.inside)).map((v) => v.valve),
    }))
  // One gauge cannot measure two bodies at once.
  if (gaugePlacings(system, measured).length === 0) return null
  return {
    /** Null if the file does not name one. */
    hold: id,
    sections: hold.sections,
    shut: hold.shut,
    covered: coverage.covered,
    /** Sections measured by each gauge or group of joined gauges. */
    measured,
    seconds,
    /** Gauge pressure, [Pa]: the hold's own, or that of the file's holds over the same sections; null if none states it. */
    pressurePa: hold.pressurePa === 0 ? null : hold.pressurePa,
  }
}

/** Most gauge placings enumerated. */
const mostPlacings = 50

/** All placings of the movable gauges that measure each body, as sets of channels. */
export function gaugePlacings(system: System, measured: readonly Pick<Body, 'channels'>[]): string[][] {
  const gauges = new Map(system.channels.map((c) => [c.id, c.movable?.id ?? null]))
  let ways: string[][] = [[]]
  for (const { channels } of measured) {
    const fixed = channels.filter((id) => !gauges.get(id))
    const options = fixed.length > 0 ? [fixed] : channels.map((id) => [id])
    ways = ways
      .flatMap((way) =>
        options
          .filter(([one]) => fixed.length > 0 || !way.some((id) => gauges.get(id) === gauges.get(one)))
          .map((option) => [...way, ...option]),
      )
      .slice(0, mostPlacings)
  }
  return ways
}

/**
 * Pressure at which sections may be held together: that of the file's holds for each, if they agree and exceed no section's
 * limit. `none`: they must not be joined, as a tank and a line at ten times its pressure.
 */
function commonPressure(system: System, sections: readonly string[]): number | null | 'none' {
  const wanted = new Set<number>()
  for (const id of sections) {
    const own = system.holds
      .filter((h) => h.pressurePa > 0 && h.sections.includes(id))
      .map((h) => h.pressurePa)
    if (own.length > 0) wanted.add(Math.max(...own))
  }
  if (wanted.size === 0) return null
  const [pressurePa] = wanted
  const tooMuch = system.sections.some(
    (s) => sections.includes(s.id) && s.maxPressurePa !== null && s.maxPressurePa < pressurePa,
  )
  return wanted.size > 1 || tooMuch ? 'none' : pressurePa
}

function typicalSeconds(system: System): number {
  const lengths = system.holds.map((h) => h.settleS + h.holdS).sort((a, b) => a - b)
  return handlingS + (lengths[Math.floor(lengths.length / 2)] ?? defaultHoldS)
}

/** Valves to shut around a group; null when a one-way valve would let the gas out. */
function closingValves(system: System, sections: readonly string[]): string[] | null {
  const inside = new Set(sections)
  const shut: string[] = []
  for (const valve of system.valves) {
    const [first, second] = valve.between
    const touches = inside.has(first) || (second !== undefined && inside.has(second))
    const within = inside.has(first) && second !== undefined && inside.has(second)
    if (!touches || within) continue
    if (isOneWay(valve) && inside.has(first)) return null
    shut.push(valve.id)
  }
  return shut
}

function connectedGroups(system: System): string[][] {
  const order = system.sections.map((s) => s.id)
  const neighbors = new Map(order.map((id) => [id, new Set<string>()]))
  for (const { between } of system.valves)
    for (const a of between) for (const b of between) if (a !== b) neighbors.get(a)?.add(b)
  const groups = new Map<string, string[]>(order.map((id) => [id, [id]]))
  // The complete connected groups are included regardless of the limit.
  for (const id of order) {
    const all = new Set([id])
    for (const member of all) for (const next of neighbors.get(member) ?? []) all.add(next)
    const whole = order.filter((other) => all.has(other))
    groups.set(whole.join('\n'), whole)
  }
  for (const group of groups.values()) {
    if (groups.size >= mostIsolations) break
    for (const member of group)
      for (const next of neighbors.get(member) ?? []) {
        if (group.includes(next)) continue
        const grown = order.filter((id) => id === next || group.includes(id))
        groups.set(grown.join('\n'), grown)
      }
  }
  return [...groups.values()]
}
