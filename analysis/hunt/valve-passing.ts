import type { SectionLeak } from '#analysis/model/hold-result.ts'
import type { HoldSpec, System } from '#analysis/model/system.ts'
import { holdCoverage } from '#analysis/model/system-graph.ts'
import { allowanceOf, leakFigure } from './leak-figures.ts'
import { type LeakPath, type LeakRow, rateMixture } from './leak-problem.ts'
import { leakPosterior } from './posterior.ts'

const valvePrior = 0.1
const outsidePrior = 0.3

/**
 * Distinguishes a passing valve from a leak to the outside: one section loses through the valve, the other gains.
 * One entry for each shut valve with a measured section on both sides: the section that loses gas, the one that gains it, and
 * the probability that the valve passes, 0 to 1.
 */
export function valvePassing(system: System, hold: HoldSpec, leaks: readonly SectionLeak[]) {
  const coverage = holdCoverage(system, hold)
  const figures = new Map(leaks.flatMap((l) => (leakFigure(l) ? [[l.section, leakFigure(l)!] as const] : [])))
  const measuredIn = (section: string | null): string | null => {
    // A shut neighbor is not part of the hold, but its gauge may show a gain.
    if (section !== null && figures.has(section)) return section
    const body = coverage.bodies.find((b) => section !== null && b.sections.includes(section))
    return body?.sections.find((s) => figures.has(s)) ?? null
  }
  return coverage.boundary.flatMap(({ valve, inside, beyond }) => {
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
    const passing = leakPosterior(problem).paths[0].leaking
    return system.valves.filter((v) => v.id === valve).map((v) => ({ valve: v, from, to, passing }))
  })
}

export type ValvePassing = Readonly<ReturnType<typeof valvePassing>[number]>

function term(path: number, factor: number) {
  return { path, epoch: 0, factor }
}

function path(prior: number): LeakPath {
  return { prior, breaks: [], looks: [null] }
}
