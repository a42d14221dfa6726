import type { Estimate, SectionLeak } from '#analysis/model/hold-result.ts'
import type { HoldSpec, System } from '#analysis/model/system.ts'
import { holdCoverage, isOneWay } from '#analysis/model/system-graph.ts'
import { allowanceOf, leakFigure } from './leak-figures.ts'
import { type LeakPath, type LeakRow, rateMixture } from './leak-problem.ts'
import { leakPosterior } from './posterior.ts'

/** A shut valve between two measured sections of one hold, and what goes through it. */
export interface ValvePassing {
  readonly valve: string
  /** Section that loses, and section that gains. */
  readonly from: string
  readonly to: string
  /** Probability that it passes, 0 to 1. */
  readonly passing: number
  /** What passes if it does, [mol/s]; null where its probability is under 1 %. */
  readonly mol_per_s: Estimate | null
  /** Leaks to the outside with the valve's share taken out: probability that each section has one. */
  readonly outside: readonly { readonly section: string; readonly leaking: number }[]
  /** One sentence. */
  readonly message: string
}

const valvePrior = 0.1
const outsidePrior = 0.3

/**
 * Tells a valve that passes from a leak to the outside: what one section loses through the valve the other gains.
 * One entry for each shut valve with a measured section on both sides.
 */
export function valvePassing(system: System, hold: HoldSpec, leaks: readonly SectionLeak[]): ValvePassing[] {
  const coverage = holdCoverage(system, hold)
  const figures = new Map(leaks.flatMap((l) => (leakFigure(l) ? [[l.section, leakFigure(l)!] as const] : [])))
  const measuredIn = (section: string | null): string | null => {
    // A shut neighbor is no part of the hold, but its gauge may have seen it gain.
    if (section !== null && figures.has(section)) return section
    const body = coverage.bodies.find((b) => section !== null && b.sections.includes(section))
    return body?.sections.find((s) => figures.has(s)) ?? null
  }
  return coverage.boundary.flatMap(({ valve, inside, beyond }): ValvePassing[] => {
    const one = measuredIn(inside)
    const other = measuredIn(beyond)
    if (one === null || other === null || one === other) return []
    const [from, to] = figures.get(one)!.molPerS >= figures.get(other)!.molPerS ? [one, other] : [other, one]
    const rows: LeakRow[] = [
      { ...figures.get(from)!, terms: [term(0, 1), term(1, 1)] },
      { ...figures.get(to)!, terms: [term(0, -1), term(2, 1)] },
    ]
    const paths = [path(valvePrior), path(outsidePrior), path(outsidePrior)]
    const problem = { rates: rateMixture(allowanceOf(system, hold)), paths, rows, verdictRows: [] }
    const [through, first, second] = leakPosterior(problem).paths
    const outside = [
      { section: from, leaking: first.leaking },
      { section: to, leaking: second.leaking },
    ]
    const message = inWords(system, valve, from, to, through.leaking)
    return [{ valve, from, to, passing: through.leaking, mol_per_s: through.rate, outside, message }]
  })
}

function term(path: number, factor: number) {
  return { path, epoch: 0, factor }
}

function path(prior: number): LeakPath {
  return { prior, breaks: [], looks: [null] }
}

function inWords(system: System, id: string, from: string, to: string, passing: number): string {
  const valve = system.valves.find((v) => v.id === id)
  const back = valve !== undefined && isOneWay(valve) && valve.between[0] === to
  const name = valve?.name ? `${id} (${valve.name})` : id
  const does = back ? 'leaks back' : 'passes'
  if (passing >= 0.9) return `Valve ${name} ${does}: ${to} gains what ${from} loses.`
  if (passing >= 0.5) return `Valve ${name} probably ${does} from ${from} to ${to}.`
  if (passing >= 0.1) return `Whether valve ${name} ${does} from ${from} to ${to} cannot be told yet.`
  return `Valve ${name} holds between ${from} and ${to}.`
}
