import type { Evidence } from '#analysis/model/evidence.ts'
import { leaksOf } from '#analysis/model/hold-result.ts'
import { isTank, type System } from '#analysis/model/system.ts'
import type { Body, Coverage } from '#analysis/model/system-graph.ts'
import { epochEvents } from './effects-of-work.ts'
import {
  coverageInFact,
  holdsInOrder,
  marksInOrder,
  type TimedHold,
  type TimedMark,
} from './evidence-order.ts'
import { leakProbability } from './fitting-kinds.ts'
import { allowanceMolPerS, flowRatio, type LeakFigure, leakFigure, measuredBodies } from './leak-figures.ts'
import {
  type LeakPath,
  type LeakProblem,
  type LeakRow,
  type LeakTerm,
  rateMixture,
  singleRate,
  type VerdictRow,
  withoutSilentEpochs,
} from './leak-problem.ts'
import { lookLikelihood, showsPressure } from './look-likelihood.ts'

/** Paths with evidence from a hold; all paths if there is none. */
export function heldPaths({ problem }: EvidenceProblem): ReadonlySet<number> {
  const held = new Set([...problem.rows, ...problem.verdictRows].flatMap((r) => r.terms.map((t) => t.path)))
  return held.size > 0 ? held : new Set(problem.paths.keys())
}

/** Error rates of a hold with only a known verdict. Own figures. */
export const verdictOnly = { detection: 19 / 20, falseAlarm: 1 / 20 }
/** 0.2 scc/min, [mol/s]: used if no hold has an allowance. Own figure. */
const fallbackAllowance = 1.4871678e-7
/** Standard deviation of every sum from negligible leaks together, over the allowance. Own figure. */
const smallLeaks = 0.05
/** P(a leak falls exactly at work on a joint | that joint did not leak). */
const chanceFall = 0.02

/**
 * Converts holds, looks and work into sums of leaks over time, with the names of the paths and the use of each piece of
 * evidence.
 *
 * @param fittingsOnly excludes leaks of a section outside its fittings.
 */
export function problemOfEvidence(system: System, evidence: readonly Evidence[], fittingsOnly = false) {
  const marks = marksInOrder(evidence)
  const holds = holdsInOrder(evidence)
  const made = holds.map((hold) => ({ hold, coverage: hold.spec && coverageInFact(hold.spec, hold, marks) }))
  const superseded = supersededHolds(made, marks)
  const names: PathName[] = system.fittings.map(({ id }) => ({ what: 'fitting', id }))
  const rows: LeakRow[] = []
  const rowHolds: string[] = []
  const verdictRows: VerdictRow[] = []
  const used: { what: string; record: string | null }[] = []
  const ignored: { what: string; why: string }[] = []
  const cautions: string[] = []
  const pressurised: { startNs: bigint; endNs: bigint; fittings: ReadonlySet<string> }[] = []
  const effects = epochEvents(system, marks, holds)
  const proving = holds.filter((h) => h.evidence.result.verdict !== 'void')
  const referencePa = proving.map((h) => h.spec?.pressurePa ?? 0).findLast((p) => p !== 0) ?? 0
  const allowances = proving
    .flatMap((h) => allowanceMolPerS(h.evidence.result.allowance) ?? [])
    .sort((a, b) => a - b)
  const allowance = allowances[Math.floor(allowances.length / 2)] ?? fallbackAllowance

  /** Why a hold gives no evidence; null where it is used. */
  function addHold(hold: TimedHold, coverage: Coverage | null, isSuperseded: boolean): string | null {
    const { spec, where: what } = hold
    const { result, record } = hold.evidence
    if (!spec || !coverage) return `its system file has no hold ${result.hold}`
    pressurised.push({ startNs: hold.startNs, endNs: hold.endNs, fittings: new Set(coverage.reached) })
    if (result.verdict === 'void') return `void: ${result.reasons[0]?.message ?? 'it proves nothing'}`
    const fatal = coverage.problems.find((p) => p.isBlocking && p.code !== 'not-closed')
    if (fatal) return fatal.message
    if (isSuperseded) {
      used.push({ what: `${result.hold}: ${result.verdict}, superseded by later passes`, record })
      return null
    }
    const tightRig = result.reasons.some((r) => r.code === rigSubtractedCode) ? spec.rig : null
    const factor = flowRatio(spec.pressurePa, referencePa)
    const measured = measuredBodies(coverage, leaksOf(result))
    if (measured.length > 0) addRows(hold, coverage, measured, factor, tightRig)
    else if (result.verdict === 'pass' || result.verdict === 'fail') {
      const terms = coverage.bodies
        .filter((b) => b.channels.length > 0)
        .flatMap((b) => bodyTerms(b, hold, 1, tightRig))
      verdictRows.push({ leaks: result.verdict === 'fail', ...verdictOnly, terms })
    } else return 'undecided, and without a figure for the leak'
    used.push({ what: `${result.hold}: ${result.verdict}`, record })
    const gone = coverage.reached.filter((id) => !system.fittings.some((f) => f.id === id))
    if (gone.length > 0)
      cautions.push(`${what} also held ${gone.join(', ')}, which the system no longer has.`)
    return null
  }

  function addRows(
    hold: TimedHold,
    coverage: Coverage,
    measured: readonly { body: Body; figure: LeakFigure }[],
    factor: number,
    tightRig: string | null,
  ): void {
    const sums = measured.map(({ body, figure }) => ({
      molPerS: figure.molPerS,
      stdMolPerS: Math.hypot(figure.stdMolPerS, smallLeaks * factor * allowance),
      terms: bodyTerms(body, hold, factor, tightRig),
    }))
    const gains = (hold.evidence.result.neighbors ?? []).flatMap((leak) => {
      const figure = leakFigure(leak)
      return figure === null ? [] : [{ section: leak.section, figure }]
    })
    // A shut neighbor is not pressurized: its gain comes through a valve.
    for (const { figure } of gains) sums.push({ ...figure, terms: [] })
    const watched = [...measured.map((m) => m.body.sections), ...gains.map((g) => [g.section])]
    const rowOf = (section: string | null): number =>
      watched.findIndex((sections) => section !== null && sections.includes(section))
    for (const { valve, inside, beyond } of coverage.boundary) {
      const one = rowOf(inside)
      const other = rowOf(beyond)
      // Gas flows through a valve from the side that loses more.
      const outward = other < 0 || (one >= 0 && sums[one].molPerS >= sums[other].molPerS)
      if (one >= 0) sums[one].terms.push(term('valve', valve, hold, outward ? factor : -factor))
      if (other >= 0) sums[other].terms.push(term('valve', valve, hold, outward ? -factor : factor))
    }
    for (const row of sums) {
      rows.push(row)
      rowHolds.push(hold.evidence.record ?? hold.evidence.result.hold)
    }
  }

  function bodyTerms(body: Body, hold: TimedHold, factor: number, tightRig: string | null): LeakTerm[] {
    const terms = body.fittings
      .filter((id) => system.fittings.some((f) => f.id === id && f.section !== tightRig))
      .map((id) => term('fitting', id, hold, factor))
    if (fittingsOnly) return terms
    const others = body.sections.filter((id) => id !== tightRig)
    return [...terms, ...others.map((id) => term('section', id, hold, factor))]
  }

  function term(what: PathName['what'], id: string, hold: TimedHold, factor: number): LeakTerm {
    let path = names.findIndex((n) => n.what === what && n.id === id)
    if (path < 0) path = names.push({ what, id }) - 1
    return { path, epoch: epochAt(id, hold.startNs), factor }
  }

  function epochAt(id: string, timeNs: bigint): number {
    return (effects.get(id) ?? []).filter((e) => e.timeNs <= timeNs).length
  }

  function looksAt(id: string, epoch: number, rates: LeakProblem['rates']): number[] | null {
    let sum: number[] | null = null
    let dry = 0
    for (const { timeNs, mark } of marks) {
      if (mark.kind !== 'look' || mark.id !== id || epochAt(id, timeNs) !== epoch) continue
      const under =
        showsPressure(mark.fields.finding) ||
        pressurised.some((h) => h.startNs <= timeNs && timeNs <= h.endNs && h.fittings.has(id))
      // A second look that shows nothing misses mostly the same leaks, so it counts half. Repeated bubbles count fully.
      const isQuiet = mark.fields.finding === 'dry' || (under && mark.fields.finding === 'stain')
      const weight = isQuiet && dry++ > 0 ? 0.5 : 1
      const log = lookLikelihood(mark.fields.finding, under, rates).map((l) => l * weight)
      sum = sum === null ? log : sum.map((s, i) => s + log[i])
    }
    const fell = fallsAt(id, epoch)
    if (fell === null) return sum
    return [(sum?.[0] ?? 0) + fell, ...rates.mean.map((_, k) => sum?.[k + 1] ?? 0)]
  }

  /** Log likelihood, if the joint was tight, of leaks that fell exactly as it was worked on or wetted. */
  function fallsAt(id: string, epoch: number): number | null {
    let log: number | null = null
    for (const { evidence } of holds)
      for (const event of evidence.result.events) {
        if (event.kind !== 'slope' || event.mark?.id !== id || event.change.value >= 0) continue
        const before = BigInt(event.time_ns) - 1n
        if (epochAt(id, before) !== epoch) continue
        log = (log ?? 0) + Math.log(1 - (1 - chanceFall) * event.probability)
      }
    return log
  }

  function usedMarks(): { what: string; record: string | null }[] {
    return marks
      .filter(
        ({ mark }) => (mark.kind === 'look' || mark.kind === 'work') && names.some((n) => n.id === mark.id),
      )
      .map(({ mark, record }) => ({
        what: `${mark.kind} at ${mark.id}: ${mark.fields.finding ?? mark.fields.action ?? 'no word'}`,
        record,
      }))
  }

  for (const { hold, coverage } of made) {
    const why = addHold(hold, coverage, superseded.has(hold))
    if (why !== null) ignored.push({ what: hold.where, why })
  }
  const largest = Math.max(0, ...rows.map((r) => r.molPerS / Math.abs(r.terms[0]?.factor ?? 1)))
  const rates = rows.length > 0 ? rateMixture(allowance, largest) : singleRate(allowance)
  const priors = pathPriors(system, names)
  const paths = names.map(({ id }, p): LeakPath => {
    const own = effects.get(id) ?? []
    return {
      prior: priors[p],
      breaks: own.map((e) => e.effect),
      looks: Array.from({ length: own.length + 1 }, (_, epoch) => looksAt(id, epoch, rates)),
    }
  })
  return {
    problem: withoutSilentEpochs({ rates, paths, rows, verdictRows }),
    names: names as readonly PathName[],
    referencePa,
    allowanceMolPerS: allowance,
    /** Hold behind each row of the problem. */
    rowHolds,
    used: [...used, ...usedMarks()],
    ignored,
    cautions,
  }
}

export type EvidenceProblem = Readonly<ReturnType<typeof problemOfEvidence>>

/**
 * Holds that say nothing about the present: later passes, at their pressure and as strict, cover all that their gas reached.
 * A failed hold also needs work on something it reached before those passes, as in the ledger. Without this, every leak
 * that was ever repaired multiplies the sets to count.
 */
function supersededHolds(
  made: readonly { readonly hold: TimedHold; readonly coverage: Coverage | null }[],
  marks: readonly TimedMark[],
): Set<TimedHold> {
  const superseded = new Set<TimedHold>()
  const passes: { readonly hold: TimedHold; readonly ids: ReadonlySet<string> }[] = []
  for (const { hold, coverage } of made.toReversed()) {
    const { verdict } = hold.evidence.result
    if (coverage === null || verdict === 'void') continue
    const { reached, covered, bodies, boundary } = coverage
    const around = [...bodies.flatMap((b) => b.sections), ...boundary.map((b) => b.valve)]
    const seen = [...reached, ...around]
    const later = passes.filter((p) => p.hold.startNs > hold.endNs && isAsStrict(p.hold, hold))
    const proving = seen.flatMap((id) => later.find((p) => p.ids.has(id))?.hold.startNs ?? [])
    const isWorkedOn = ({ timeNs, mark }: TimedMark): boolean =>
      mark.kind === 'work' &&
      mark.id !== null &&
      seen.includes(mark.id) &&
      timeNs > hold.endNs &&
      proving.every((startNs) => timeNs < startNs)
    if (proving.length === seen.length && (verdict !== 'fail' || marks.some(isWorkedOn))) superseded.add(hold)
    if (verdict === 'pass' && covered.length > 0 && !hold.evidence.doubt)
      passes.push({ hold, ids: new Set([...covered, ...around]) })
  }
  return superseded
}

/** Whether a hold would show what another one may leak: at no less pressure, with no larger allowance. */
function isAsStrict(hold: TimedHold, than: TimedHold): boolean {
  const [own, other] = [hold, than].map(({ spec, evidence: { result } }) => ({
    pa: spec?.pressurePa ?? 0,
    allowed: allowanceMolPerS(result.allowance),
  }))
  if (own.allowed === null || other.allowed === null || own.pa * other.pa <= 0) return false
  const ratio = flowRatio(own.pa, other.pa)
  return Math.abs(own.pa) >= 0.95 * Math.abs(other.pa) && own.allowed <= 1.05 * ratio * other.allowed
}

/** Reason code of an analysis that already subtracted the rig's leak. */
export const rigSubtractedCode = 'rig-leak-subtracted'

const valvePrior = 0.03
/** Probability that a section leaks outside its fittings, by its kind. Own figures. */
const elsewherePrior = { line: 0.005, tank: 0.04, rig: 0.05 }

/** Most leaks expected in a system of any size: many joints are made with no less care. Own figure. */
const mostExpected = 1

/** Priors of all paths, scaled down together if they expect more leaks than that. */
function pathPriors(system: System, names: readonly PathName[]): number[] {
  const priors = names.map((name) => pathPrior(system, name))
  const expected = priors.reduce((sum, p) => sum + p, 0)
  return priors.map((p) => p * Math.min(1, mostExpected / expected))
}

/** Prior probability that a path leaks, by the kind of the fitting, valve or section. */
function pathPrior(system: System, { what, id }: PathName): number {
  if (what === 'valve') return valvePrior
  if (what === 'fitting')
    return leakProbability(system, system.fittings.find((f) => f.id === id)?.kind ?? 'other')
  const section = system.sections.find((s) => s.id === id)
  return elsewherePrior[section?.kind ?? (section && isTank(section) ? 'tank' : 'line')]
}

export interface PathName {
  /** `section`: a seam, wall or hose of the section, not one of its fittings. */
  readonly what: 'fitting' | 'valve' | 'section'
  readonly id: string
}

/** Section that a path is in; null for a valve. */
export function sectionOf(system: System, { what, id }: PathName): string | null {
  if (what === 'section') return id
  return what === 'fitting' ? (system.fittings.find((f) => f.id === id)?.section ?? null) : null
}
