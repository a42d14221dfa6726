import type { Evidence } from '#analysis/model/evidence.ts'
import type { Estimate, HoldResult } from '#analysis/model/hold-result.ts'
import type { Recording } from '#analysis/model/samples.ts'
import type { FittingKind, System } from '#analysis/model/system.ts'
import { holdCoverage, systemProblems } from '#analysis/model/system-graph.ts'
import { times } from '#analysis/numeric/estimate.ts'
import { molPerSPerScc, sccReferenceText } from '#analysis/physics/standard-flow.ts'
import { type DisplayUnits, figuresIn, unitsOfSystem } from '#analysis/reasons/figures.ts'
import { holdsInOrder, marksInOrder, overlappingHolds } from './evidence-order.ts'
import { kindDefaults, weepAdvice } from './fitting-kinds.ts'
import type { Present } from './leak-problem.ts'
import { showsLeak } from './look-likelihood.ts'
import { nextSteps, type Search, sure } from './next-steps.ts'
import { leakPosterior, type Posterior } from './posterior.ts'
import {
  type EvidenceProblem,
  heldPaths,
  type PathName,
  problemOfEvidence,
  sectionOf,
} from './problem-of-evidence.ts'
import { rigStanding } from './rig.ts'

export interface HuntFitting {
  readonly id: string
  readonly section: string
  readonly name: string
  readonly kind: FittingKind
  /** Probability that it leaks now, 0 to 1. */
  readonly leaking: number
  /** Leak if it leaks, at `reference_Pa`, 95 % interval; null where its probability is under 1 %. */
  readonly mol_per_s: Estimate | null
  readonly scc_per_min: Estimate | null
  /** False without evidence from a hold: its probability is that of its kind. */
  readonly held: boolean
  /** Repair of a weeping fitting, by common practice; never under pressure. */
  readonly advice: string
}

export interface HuntOptions {
  /** Excludes leaks of a section outside its fittings. */
  readonly fittingsOnly?: boolean
  /** Units of the sentences; the system file's if left out. */
  readonly units?: DisplayUnits
}

/** Posterior of all evidence: the single source of leak probabilities. */
function huntPosterior(
  system: System,
  evidence: readonly Evidence[],
  options: HuntOptions = {},
): { readonly built: EvidenceProblem; readonly posterior: Posterior } {
  const built = problemOfEvidence(system, evidence, options.fittingsOnly)
  return { built, posterior: leakPosterior(built.problem) }
}

/** Leak probability of each fitting and the next steps. Deterministic in the evidence. */
export function hunt(system: System, evidence: readonly Evidence[], options: HuntOptions = {}) {
  const { built, posterior } = huntPosterior(system, evidence, options)
  const measured = built.problem.rows.length > 0
  const held = heldPaths(built)
  const ofPath = (p: number): Pick<HuntFitting, 'leaking' | 'mol_per_s' | 'scc_per_min'> => {
    const { leaking, rate } = posterior.paths[p]
    return {
      leaking,
      mol_per_s: measured ? rate : null,
      scc_per_min: measured && rate ? times(rate, 1 / molPerSPerScc(system.sccReferenceK)) : null,
    }
  }
  const fittings = system.fittings
    .map((fitting, p): HuntFitting => {
      const { id, section, name, kind } = fitting
      const advice = weepAdvice(fitting)
      return { id, section, name, kind, ...ofPath(p), held: held.has(p), advice }
    })
    .sort((a, b) => Number(b.held) - Number(a.held) || b.leaking - a.leaking || a.id.localeCompare(b.id))
  const anyLeak = posterior.any(new Set(system.fittings.flatMap((_, p) => (held.has(p) ? [p] : []))))
  const anything = posterior.any(held)
  const sections = system.sections.map(({ id }) => {
    const mine = built.names.flatMap((name, p) => (sectionOf(system, name) === id ? [p] : []))
    return { section: id, leaking: posterior.any(new Set(mine)) }
  })
  const isLeakSought = anything >= suspicion && (measured || built.problem.verdictRows.length > 0)
  const next = nextSteps({
    system,
    built,
    posterior,
    presents: isLeakSought ? posterior.presents : everywhere(posterior),
    ...looksSinceWork(evidence),
    isLeakSought,
    unprovenRig: unprovenRig(evidence),
    figures: figuresIn(options.units ?? unitsOfSystem(system)),
  })
  return {
    stillhold: 1 as const,
    system: system.name,
    /** One sentence: the finding. */
    message: finding(fittings, sections, built, posterior, anyLeak),
    /** Number of sets of simultaneous leaks evaluated, and number of leaks in the largest. */
    sets: posterior.sets,
    largest_set: posterior.largest,
    /** Estimated probability of larger sets; 0 when every set was evaluated. */
    beyond: posterior.beyond,
    /** Gauge pressure at which leaks are stated, [Pa]. */
    reference_Pa: built.referencePa,
    /** Reference of scc, as every output prints it. */
    scc_reference: sccReferenceText(system.sccReferenceK),
    /** Probability that at least one held fitting leaks; of all fittings if none was held. */
    any_leak: anyLeak,
    /** Held fittings before others; in each group, most likely first. */
    fittings,
    /** Probability that a section leaks to the outside, at any joint; in the order of the file. */
    sections,
    /** Shut valves that may let gas through. */
    valves: pathsOf(built, 'valve').map(([{ id }, p]) => {
      const valve = system.valves.find((v) => v.id === id)
      const { leaking, ...rates } = ofPath(p)
      return { id, name: valve?.name ?? '', between: valve?.between ?? [], passing: leaking, ...rates }
    }),
    /** Sections that may leak elsewhere than at a fitting of the file: a seam, a wall, the rig's own hose. */
    elsewhere: pathsOf(built, 'section').map(([{ id }, p]) => {
      const { leaking, scc_per_min } = ofPath(p)
      return { section: id, leaking, scc_per_min }
    }),
    /** Fastest search first; without a leak to find, most bits a minute. Never empty with one to find. */
    next,
    used: built.used,
    ignored: built.ignored,
    /** Source of the rates of the kinds; absent: our own figures. */
    ...(system.priors && { priors_source: system.priors.source }),
    cautions: [
      ...built.cautions,
      ...overlappingHolds(evidence),
      ...contradictions(built, posterior),
      ...systemProblems(system).map((p) => p.message),
    ],
  }
}

/**
 * Result of `hunt`: which fittings may leak, how likely, and the next step; with the time at which the evidence was read from
 * the archive, ISO, absent for evidence from files.
 */
export type HuntResult = Readonly<ReturnType<typeof hunt>> & { readonly taken_at?: string }

/**
 * Presents with leaks in parts never held. They count only if no held part probably leaks: until then these parts belong
 * to the ledger and count as tight.
 */
function everywhere({ presents, unheld }: Posterior): Present[] {
  const all = [...presents, ...unheld]
  const total = all.reduce((sum, p) => sum + p.weight, 0)
  return all.map((p) => ({ ...p, weight: p.weight / total })).sort((a, b) => b.weight - a.weight)
}

/** Least probability of a leak at held fittings that keeps the hunt on them. */
const suspicion = 0.2

/** The rig of the last failed hold with one, if it was not proven alone within the day before. */
function unprovenRig(evidence: readonly Evidence[]): string | null {
  const last = holdsInOrder(evidence).findLast((h) => h.evidence.result.verdict === 'fail')
  const rig = last?.spec?.rig ?? null
  return last && rig !== null && rigStanding(evidence, rig, last.endNs + 1n).state === 'unproven' ? rig : null
}

function pathsOf(built: EvidenceProblem, what: PathName['what']): [PathName, number][] {
  return built.names.flatMap((name, p): [PathName, number][] => (name.what === what ? [[name, p]] : []))
}

/**
 * Looks since the last work on each fitting, valve or section: consecutive dry looks under pressure, and consecutive looks
 * that found a leak while a hold failed.
 */
function looksSinceWork(evidence: readonly Evidence[]): Pick<Search, 'dryLooks' | 'seenLeaking'> {
  const spans = holdsInOrder(evidence)
  const dryLooks = new Map<string, number>()
  const seenLeaking = new Map<string, number>()
  for (const { timeNs, mark } of marksInOrder(evidence)) {
    const { id, kind } = mark
    if (id === null || (kind !== 'work' && kind !== 'look')) continue
    const under = spans.filter((s) => s.startNs <= timeNs && timeNs <= s.endNs)
    const leaks = kind === 'look' && showsLeak(mark.fields.finding, under.length > 0)
    if (kind === 'work' || leaks) dryLooks.delete(id)
    else if (under.length > 0) dryLooks.set(id, (dryLooks.get(id) ?? 0) + 1)
    if (leaks && under.some((s) => s.evidence.result.verdict === 'fail'))
      seenLeaking.set(id, (seenLeaking.get(id) ?? 0) + 1)
    else if (kind === 'work' || mark.fields.finding === 'dry') seenLeaking.delete(id)
  }
  return { dryLooks, seenLeaking }
}

/** Measured sums that no set of leaks explains: an unmarked change, or a wrong hold. */
function contradictions({ rowHolds }: EvidenceProblem, { misfits, widened }: Posterior): string[] {
  const worst = Math.max(...misfits.map(Math.abs))
  return misfits.flatMap((misfit, r) => {
    if (Math.abs(misfit) <= 3.5 && !(widened > 1 && Math.abs(misfit) === worst)) return []
    const found = misfit < 0 ? 'more' : 'less'
    return [
      `${rowHolds[r]} found ${found} than the other holds allow: something changed without a mark, or one of them is wrong; hold again.`,
    ]
  })
}

function finding(
  fittings: readonly HuntFitting[],
  sections: readonly { readonly section: string; readonly leaking: number }[],
  built: EvidenceProblem,
  posterior: Posterior,
  anyLeak: number,
): string {
  if (fittings.length === 0) return 'The system file names no fittings, so there is nothing to hunt.'
  if (built.problem.rows.length === 0 && built.problem.verdictRows.length === 0)
    return 'No hold gives evidence yet: the ranking uses the kinds of the fittings alone.'
  const heldOnes = fittings.filter((f) => f.held)
  const [first, second] = heldOnes
  if (first === undefined) return 'The holds so far covered no fitting of the file.'
  const found = [
    ...heldOnes
      .filter((f) => f.leaking >= sure)
      .map((f) => ({ what: `${named(f)} leaks`, chance: f.leaking })),
    ...foundElsewhere(built, posterior),
  ]
  if (found.length === 1) return `${found[0].what}, ${percentSure(found[0].chance)} sure.`
  if (found.length > 1) {
    const all = found.map((f) => f.what)
    return `${all.slice(0, -1).join(', ')} and ${all.at(-1)}, each at least 90 % sure.`
  }
  if (anyLeak < 0.05)
    return `No held fitting is under suspicion: ${percentSure(1 - anyLeak)} sure that none of them leaks.`
  if (anyLeak < 0.5)
    return `A leak at a fitting is unlikely (${(100 * anyLeak).toFixed(0)} %); ${named(first)} would be the first to check.`
  const leaky = sections.filter((s) => s.leaking >= sure).map((s) => s.section)
  const standsOut = second === undefined || second.leaking <= 0.7 * first.leaking
  if (!standsOut) {
    const group = heldOnes.filter((f) => f.leaking > 0.7 * first.leaking)
    const where = leaky.length > 0 ? `${leaky.join(' and ')} leaks` : 'A fitting leaks'
    return `${where}, but none of ${group.length} fittings stands out yet.`
  }
  return `${named(first)} is the likeliest to leak, ${(100 * first.leaking).toFixed(0)} %; not yet enough to call it.`
}

function named(f: HuntFitting): string {
  return `${f.id} (${f.name || kindDefaults[f.kind].plainName})`
}

/** Leaking valves, and sections that leak outside the file's fittings: a seam, a hose, the rig. */
function foundElsewhere(built: EvidenceProblem, { paths }: Posterior): { what: string; chance: number }[] {
  return built.names.flatMap(({ what, id }, p) => {
    if (what === 'fitting' || paths[p].leaking < sure) return []
    const words =
      what === 'valve' ? `Valve ${id} passes` : `${id} leaks at no fitting of the file (hose, seam, wall)`
    return [{ what: words, chance: paths[p].leaking }]
  })
}

function percentSure(chance: number): string {
  return chance > 0.99 ? 'over 99 %' : `${(100 * chance).toFixed(0)} %`
}

/**
 * `fittings` of one hold's result: leak probability of each covered fitting, from this hold and the marks of its recording
 * alone, likeliest first; small after a pass. Empty for a void hold, which gives no evidence about fittings.
 */
export function holdSuspects(
  system: System,
  result: HoldResult,
  recording: Recording,
): HoldResult['fittings'] {
  if (result.verdict === 'void') return []
  const evidence: Evidence[] = [
    { kind: 'hold', record: null, result, system, corrects: null, retests: null },
    ...recording.marks.map((mark): Evidence => ({ kind: 'mark', record: null, mark })),
  ]
  const spec = system.holds.find((h) => h.id === result.hold)
  if (!spec) return []
  const reached = new Set(holdCoverage(system, spec).reached)
  const near: System = { ...system, fittings: system.fittings.filter((f) => reached.has(f.id)) }
  const { built, posterior } = huntPosterior(near, evidence)
  if (built.problem.rows.length === 0 && built.problem.verdictRows.length === 0) return []
  const { paths } = posterior
  return near.fittings
    .map(({ id }, p) => ({ id, leaking: Number(paths[p].leaking.toPrecision(3)) }))
    .sort((a, b) => b.leaking - a.leaking)
}
