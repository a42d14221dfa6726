import { groupBy } from './group-by.ts'
import { type HoldSpec, isSectionPressure, type System, type Valve } from './system.ts'

/** Sections open to each other in a hold: one volume, one pressure. */
export interface Body {
  readonly sections: readonly string[]
  /** Pressure channels that measure it. */
  readonly channels: readonly string[]
  /** Sum of its sections, [m³], and of their tolerances. */
  readonly volumeM3: number
  readonly volumeToleranceM3: number
  readonly fittings: readonly string[]
}

export interface SetupProblem {
  /** Stable. */
  readonly code: string
  /** One sentence: what, where, what to do. */
  readonly message: string
  /** True when a hold with this set-up proves nothing about fittings. */
  readonly isBlocking: boolean
}

/** A shut valve with the pressure on one side of it, or on both. */
export interface BoundaryValve {
  readonly valve: string
  /** Section of the hold on this side. */
  readonly inside: string
  /** Section beyond; null for the open air. */
  readonly beyond: string | null
}

export interface Coverage {
  readonly bodies: readonly Body[]
  /** Fittings whose leak this hold would reveal. Empty when a problem blocks it. */
  readonly covered: readonly string[]
  /** Fittings reached by gas, covered or not: candidates for a leak. */
  readonly reached: readonly string[]
  readonly boundary: readonly BoundaryValve[]
  readonly problems: readonly SetupProblem[]
}

/**
 * Check valves and pumps pass gas from the first section of `between` to the second and block the other way.
 * One outside the shut list passes gas forwards, but never joins two sections into one volume.
 */
export function isOneWay(valve: Valve): boolean {
  return valve.kind === 'check' || valve.kind === 'pump'
}

/**
 * Sections pressurised and measured by a hold and the fittings it covers, from the valves that are shut.
 * Valves that are not shut are open and join their sections.
 *
 * @param shut ids of valves actually shut, where marks differ from the hold's own list.
 */
export function holdCoverage(system: System, hold: HoldSpec, shut: readonly string[] = hold.shut): Coverage {
  const problems = new SetupProblems()
  // A cock between a gauge and its section isolates no section.
  const valves = system.valves.filter(({ kind }) => kind !== 'gauge-cock')
  const named = new Set(hold.sections)
  if (hold.rig !== null) named.add(hold.rig)
  const shutIds = new Set(shut)
  nameUnknowns(system, hold, shut, problems)

  const reached = new Set(named)
  const joined: [string, string][] = []
  const boundary: BoundaryValve[] = []
  for (let grew = true; grew; ) {
    grew = false
    for (const valve of valves) {
      if (shutIds.has(valve.id)) continue
      const [from, to] = flowEnds(valve, hold)
      if (to === undefined) continue
      const opens = reached.has(from) || (reached.has(to) && !isOneWay(valve))
      if (!opens || (reached.has(from) && reached.has(to))) continue
      reached.add(from)
      reached.add(to)
      grew = true
    }
  }
  for (const valve of valves) {
    const [first, second] = flowEnds(valve, hold)
    const firstIn = reached.has(first)
    const secondIn = second !== undefined && reached.has(second)
    if (shutIds.has(valve.id)) {
      if (firstIn) boundary.push({ valve: valve.id, inside: first, beyond: second ?? null })
      else if (secondIn) boundary.push({ valve: valve.id, inside: second, beyond: first })
      else
        problems.warns(
          'valve-elsewhere',
          `Valve ${valve.id} is to be shut, but nothing this hold pressurises borders on it: check the hold's sections.`,
        )
      if (isOneWay(valve) && firstIn && !secondIn)
        problems.warns(
          'one-way-valve',
          `${label(valve)} passes from ${first} to ${second ?? 'the outside'} and isolates ${first} only if it can be shut: check this.`,
        )
    } else if (second === undefined) {
      if (firstIn)
        problems.bars(
          'open-to-outside',
          `${label(valve)} is not shut, so ${first} is open to the air: add it to the hold's shut list.`,
        )
    } else if (firstIn && secondIn) {
      // A one-way valve closes on a falling pressure and hides one side's leak from the other side's gauge.
      if (isOneWay(valve)) boundary.push({ valve: valve.id, inside: second, beyond: first })
      else joined.push([first, second])
    } else if (secondIn && isOneWay(valve)) {
      boundary.push({ valve: valve.id, inside: second, beyond: first })
    }
  }
  for (const section of reached) {
    if (named.has(section)) continue
    const way = valves.find(
      (v) =>
        !shutIds.has(v.id) &&
        v.between.includes(section) &&
        v.between.some((s) => reached.has(s) && s !== section),
    )
    problems.bars(
      'not-closed',
      `${way ? label(way) : 'An open valve'} is not shut, so gas reaches ${section}, which this hold does not name: shut the valve or name the section.`,
    )
  }

  if (hold.rig !== null && reached.has(hold.rig) && reached.has(hold.sections[0]))
    joined.push([hold.rig, hold.sections[0]])
  const bodies = splitIntoBodies(system, reached, joined)
  for (const body of bodies) {
    if (body.channels.length === 0 && body.sections.some((s) => named.has(s)))
      problems.warns(
        'not-measured',
        `No pressure channel sees ${body.sections.join(' + ')}: it is pressurised but not measured.`,
      )
  }
  if (bodies.length > 0 && bodies.every((b) => b.channels.length === 0))
    problems.bars('nothing-measured', 'No pressure channel sees any section of this hold.')

  const barred = problems.found.some((p) => p.isBlocking)
  const covered = barred ? [] : bodies.filter((b) => b.channels.length > 0).flatMap((b) => b.fittings)
  return { bodies, covered, reached: bodies.flatMap((b) => b.fittings), boundary, problems: problems.found }
}

function nameUnknowns(
  system: System,
  hold: HoldSpec,
  shut: readonly string[],
  problems: SetupProblems,
): void {
  for (const id of [...hold.sections, ...(hold.rig === null ? [] : [hold.rig])])
    if (!system.sections.some((s) => s.id === id))
      problems.bars('unknown-section', `Hold ${hold.id} names section ${id}, which is not in the file.`)
  for (const id of shut)
    if (!system.valves.some((v) => v.id === id))
      problems.bars('unknown-valve', `Hold ${hold.id} shuts valve ${id}, which is not in the file.`)
}

function splitIntoBodies(
  system: System,
  reached: ReadonlySet<string>,
  joined: readonly [string, string][],
): Body[] {
  const parent = new Map([...reached].map((id) => [id, id]))
  const root = (id: string): string => {
    const up = parent.get(id)!
    return up === id ? id : root(up)
  }
  for (const [a, b] of joined) parent.set(root(a), root(b))
  const groups = groupBy(
    system.sections.filter(({ id }) => reached.has(id)),
    ({ id }) => root(id),
  )
  return [...groups.values()].map((parts) => {
    const inside = new Set(parts.map(({ id }) => id))
    return {
      sections: [...inside],
      channels: system.channels
        .filter((c) => c.section !== null && inside.has(c.section) && isSectionPressure(c.measures))
        .map((c) => c.id),
      volumeM3: parts.reduce((sum, s) => sum + s.volumeM3, 0),
      volumeToleranceM3: parts.reduce((sum, s) => sum + s.volumeToleranceM3, 0),
      fittings: system.fittings.filter((f) => inside.has(f.section)).map((f) => f.id),
    }
  })
}

/** Ends of a valve in the hold's flow direction: reversed in a suction hold. */
function flowEnds(valve: Valve, hold: HoldSpec): [string, string | undefined] {
  const [first, second] = valve.between
  if (second === undefined || hold.pressurePa >= 0) return [first, second]
  return [second, first]
}

/** Faults of the whole file: holds that cannot work, fittings that no hold of the file covers. */
export function systemProblems(system: System): SetupProblem[] {
  const problems = new SetupProblems()
  const covered = new Set<string>()
  for (const hold of system.holds) {
    const coverage = holdCoverage(system, hold)
    for (const fault of coverage.problems)
      problems.found.push({ ...fault, message: `${hold.id}: ${fault.message}` })
    for (const id of coverage.covered) covered.add(id)
  }
  const missed = system.fittings.filter((f) => !covered.has(f.id))
  if (missed.length > 0)
    problems.warns(
      'never-covered',
      `No hold of the file covers ${missed.map((f) => f.id).join(', ')}: add a hold over ${[...new Set(missed.map((f) => f.section))].join(', ')}.`,
    )
  return problems.found
}

function label(valve: Valve): string {
  return valve.name ? `Valve ${valve.id} (${valve.name})` : `Valve ${valve.id}`
}

/** Collects the problems of a set-up. */
class SetupProblems {
  readonly found: SetupProblem[] = []

  /** The hold proves nothing about fittings. */
  bars(code: string, message: string): void {
    this.found.push({ code, message, isBlocking: true })
  }

  warns(code: string, message: string): void {
    this.found.push({ code, message, isBlocking: false })
  }
}
