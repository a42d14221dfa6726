import type { Evidence } from '#analysis/model/evidence.ts'
import type { Estimate } from '#analysis/model/hold-result.ts'
import type { HuntFitting, HuntResult } from '#analysis/model/hunt.ts'
import type { System } from '#analysis/model/system.ts'
import { systemProblems } from '#analysis/model/system-graph.ts'
import { molPerSPerScc, sccReferenceText } from '#analysis/physics/standard-flow.ts'
import { holdsInOrder, marksInOrder, overlappingHolds } from './evidence-order.ts'
import { kindDefaults, weepAdvice } from './fitting-kinds.ts'
import type { Particle, PathPosterior, Posterior } from './leak-problem.ts'
import { nextSteps } from './next-steps.ts'
import { leakPosterior } from './posterior.ts'
import { type EvidenceProblem, heldPaths, type PathName, problemOfEvidence } from './problem-of-evidence.ts'

export interface HuntOptions {
  /** Leaves out that a section may leak elsewhere than at its fittings. */
  readonly fittingsOnly?: boolean
}

/** Which fittings may leak, how likely, and what to do next: the same evidence always gives the same answer. */
export function hunt(system: System, evidence: readonly Evidence[], options: HuntOptions = {}): HuntResult {
  const built = problemOfEvidence(system, evidence, options.fittingsOnly)
  const posterior = leakPosterior(built.problem)
  const measured = built.problem.rows.length > 0
  const held = heldPaths(built)
  const reporter = { system, posterior, held, measured }
  const fittings = system.fittings
    .map((_, i) => reportFitting(reporter, i))
    .sort((a, b) => Number(b.held) - Number(a.held) || b.leaking - a.leaking || a.id.localeCompare(b.id))
  const anyLeak = weightWhere(posterior.particles, (rates) =>
    system.fittings.some((_, p) => held.has(p) && rates[p] > 0),
  )
  const sections = system.sections.map(({ id }) => {
    const mine = built.names.flatMap((name, p) => (sectionOf(system, name) === id ? [p] : []))
    return {
      section: id,
      leaking: weightWhere(posterior.particles, (rates) => mine.some((p) => rates[p] > 0)),
    }
  })
  const next = nextSteps(system, built, focused(posterior, held, anyLeak), looksSinceWork(system, evidence))
  return {
    stillhold: 1,
    system: system.name,
    message: finding(fittings, sections, built, anyLeak),
    method: posterior.method,
    count: posterior.count,
    reference_Pa: built.referencePa,
    scc_reference: sccReferenceText(system.sccReferenceK),
    any_leak: anyLeak,
    fittings,
    sections,
    valves: pathsOf(built, 'valve').map(([{ id }, p]) => {
      const valve = system.valves.find((v) => v.id === id)
      const { leaking, error, rate } = posterior.paths[p]
      return {
        id,
        name: valve?.name ?? '',
        between: valve?.between ?? [],
        passing: leaking,
        passing_error: error,
        mol_per_s: measured ? rate : null,
        scc_per_min: measured ? sccPerMin(rate, system) : null,
      }
    }),
    elsewhere: pathsOf(built, 'section').map(([{ id }, p]) => ({
      section: id,
      leaking: posterior.paths[p].leaking,
      leaking_error: posterior.paths[p].error,
      scc_per_min: measured ? sccPerMin(posterior.paths[p].rate, system) : null,
    })),
    together: together(posterior.particles, built.names),
    next,
    used: built.used,
    ignored: built.ignored,
    cautions: [
      ...built.cautions,
      ...overlappingHolds(evidence),
      ...contradictions(built, posterior),
      ...systemProblems(system).map((p) => p.message),
    ],
  }
}

/**
 * While something that was held is likely to leak, the hunt is for that leak: what was never held is the ledger's affair
 * and counts as tight here. Else everything is in question.
 */
function focused(posterior: Posterior, held: ReadonlySet<number>, anyLeak: number): Posterior {
  if (anyLeak < suspicion) return posterior
  const particles = posterior.particles.map(({ weight, rates }) => ({
    weight,
    rates: rates.map((rate, p) => (held.has(p) ? rate : 0)),
  }))
  const tight: PathPosterior = { leaking: 0, error: 0, rate: null }
  return { ...posterior, particles, paths: posterior.paths.map((path, p) => (held.has(p) ? path : tight)) }
}

/** Below this the held fittings are done with. */
const suspicion = 0.2

interface Reporter {
  readonly system: System
  readonly posterior: Posterior
  readonly held: ReadonlySet<number>
  readonly measured: boolean
}

function reportFitting({ system, posterior, held, measured }: Reporter, index: number): HuntFitting {
  const fitting = system.fittings[index]
  const { leaking, error, rate }: PathPosterior = posterior.paths[index]
  return {
    id: fitting.id,
    section: fitting.section,
    name: fitting.name,
    kind: fitting.kind,
    leaking,
    leaking_error: error,
    mol_per_s: measured ? rate : null,
    scc_per_min: measured ? sccPerMin(rate, system) : null,
    held: held.has(index),
    advice: weepAdvice(fitting),
  }
}

function sccPerMin(rate: Estimate | null, system: System): Estimate | null {
  if (rate === null) return null
  const molPerS = molPerSPerScc(system.sccReferenceK)
  return { value: rate.value / molPerS, low: rate.low / molPerS, high: rate.high / molPerS }
}

function pathsOf(built: EvidenceProblem, what: PathName['what']): [PathName, number][] {
  return built.names.flatMap((name, p): [PathName, number][] => (name.what === what ? [[name, p]] : []))
}

function sectionOf(system: System, { what, id }: PathName): string | null {
  if (what === 'section') return id
  return what === 'fitting' ? (system.fittings.find((f) => f.id === id)?.section ?? null) : null
}

function weightWhere(particles: readonly Particle[], holds: (rates: Float64Array) => boolean): number {
  return Math.min(
    1,
    particles.reduce((sum, p) => (holds(p.rates) ? sum + p.weight : sum), 0),
  )
}

function together(particles: readonly Particle[], names: readonly PathName[]): HuntResult['together'] {
  const sums = new Map<string, { ids: string[]; probability: number }>()
  for (const { rates, weight } of particles) {
    const ids = names.flatMap(({ what, id }, p) =>
      rates[p] > 0 ? [what === 'section' ? `${id} itself` : id] : [],
    )
    const key = ids.join('\n')
    const known = sums.get(key)
    if (known) known.probability += weight
    else sums.set(key, { ids, probability: weight })
  }
  return [...sums.values()].sort((a, b) => b.probability - a.probability).slice(0, 5)
}

/** How often each fitting was looked at under pressure since the last work on it. */
function looksSinceWork(system: System, evidence: readonly Evidence[]): ReadonlyMap<string, number> {
  const spans = holdsInOrder(evidence)
  const looks = new Map<string, number>()
  for (const { timeNs, mark } of marksInOrder(evidence)) {
    if (mark.id === null || !system.fittings.some((f) => f.id === mark.id)) continue
    if (mark.kind === 'work') looks.delete(mark.id)
    if (mark.kind === 'look' && spans.some((s) => s.startNs <= timeNs && timeNs <= s.endNs))
      looks.set(mark.id, (looks.get(mark.id) ?? 0) + 1)
  }
  return looks
}

/** Measured sums that no possible present explains: something changed without a mark, or a hold is wrong. */
function contradictions({ problem, rowHolds }: EvidenceProblem, { particles }: Posterior): string[] {
  const out: string[] = []
  problem.rows.forEach((row, r) => {
    if (row.terms.some((t) => t.epoch !== problem.paths[t.path].breaks.length)) return
    let gap = 0
    for (const { rates, weight } of particles) {
      const sum = row.terms.reduce((total, t) => total + t.factor * rates[t.path], 0)
      gap += (weight * (row.molPerS - sum)) / row.stdMolPerS
    }
    if (Math.abs(gap) > 3)
      out.push(
        `${rowHolds[r]} found ${gap > 0 ? 'more' : 'less'} than the other holds allow: something changed without a mark, or one of them is wrong; hold again.`,
      )
  })
  return out
}

function finding(
  fittings: readonly HuntFitting[],
  sections: HuntResult['sections'],
  built: EvidenceProblem,
  anyLeak: number,
): string {
  if (fittings.length === 0) return 'The system file names no fittings, so there is nothing to hunt.'
  if (built.problem.rows.length === 0 && built.problem.verdictRows.length === 0)
    return 'No hold tells anything yet: what follows rests on the kinds of the fittings alone.'
  const heldOnes = fittings.filter((f) => f.held)
  const [first, second] = heldOnes
  if (first === undefined) return 'The holds so far covered no fitting of the file.'
  const named = (f: HuntFitting): string =>
    `${f.id}${f.name ? ` (${f.name})` : ` (${kindDefaults[f.kind].plainName})`}`
  if (first.leaking >= 0.9) {
    const others = heldOnes.slice(1).filter((f) => f.leaking >= 0.9)
    const all = [first, ...others].map(named)
    return others.length === 0
      ? `${all[0]} leaks, ${(100 * first.leaking).toFixed(0)} % sure.`
      : `${all.slice(0, -1).join(', ')} and ${all.at(-1)} leak, each at least 90 % sure.`
  }
  if (anyLeak < 0.05)
    return `No held fitting is under suspicion: ${(100 * (1 - anyLeak)).toFixed(0)} % sure that none of them leaks.`
  if (anyLeak < 0.5)
    return `A leak at a fitting is unlikely (${(100 * anyLeak).toFixed(0)} %); ${named(first)} would be the first to check.`
  const sure = sections.filter((s) => s.leaking >= 0.9).map((s) => s.section)
  const standsOut = second === undefined || second.leaking <= 0.7 * first.leaking
  if (!standsOut) {
    const group = heldOnes.filter((f) => f.leaking > 0.7 * first.leaking)
    const where = sure.length > 0 ? `${sure.join(' and ')} leaks` : 'A fitting leaks'
    return `${where}, but none of ${group.length} fittings stands out yet.`
  }
  return `${named(first)} is the likeliest to leak, ${(100 * first.leaking).toFixed(0)} %; not yet enough to call it.`
}
