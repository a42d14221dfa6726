import { isTank, type System } from '#analysis/model/system.ts'
import { leakProbability } from './fitting-kinds.ts'

const valvePrior = 0.03
/** Probability that a section leaks elsewhere than at its fittings, by what it is. Own figures. */
const elsewherePrior = { line: 0.005, tank: 0.04, rig: 0.05 }

/** Leaks expected in a system however many joints it has: many joints are made with no less care. Own figure. */
const mostExpected = 1

/** Priors of all paths, brought down together where they would expect more leaks than that. */
export function pathPriors(system: System, names: readonly PathName[]): number[] {
  const priors = names.map((name) => pathPrior(system, name))
  const expected = priors.reduce((sum, p) => sum + p, 0)
  return priors.map((p) => p * Math.min(1, mostExpected / expected))
}

/** Probability that a path leaks before anything was held: by the fitting's kind, a valve's, or what the section is. */
function pathPrior(system: System, { what, id }: PathName): number {
  if (what === 'valve') return valvePrior
  if (what === 'fitting')
    return leakProbability(system, system.fittings.find((f) => f.id === id)?.kind ?? 'other')
  const section = system.sections.find((s) => s.id === id)
  return elsewherePrior[section?.kind ?? (section && isTank(section) ? 'tank' : 'line')]
}

export interface PathName {
  /** `section`: the section itself, a seam, a wall, a hose, rather than one of its fittings. */
  readonly what: 'fitting' | 'valve' | 'section'
  readonly id: string
}

/** Section that a path is in; null for a valve. */
export function sectionOf(system: System, { what, id }: PathName): string | null {
  if (what === 'section') return id
  return what === 'fitting' ? (system.fittings.find((f) => f.id === id)?.section ?? null) : null
}
