import type { System } from '#analysis/model/system.ts'
import { kindDefaults } from './fitting-kinds.ts'
import type { PathName } from './problem-of-evidence.ts'

const valvePrior = 0.03
/** Probability that a section leaks elsewhere than at its fittings, by what it is. Own figures. */
const elsewherePrior = { line: 0.005, tank: 0.04, rig: 0.05 }
/** A section of unstated kind above this is taken for a tank, [m³]. */
const tankFromM3 = 5e-3

/** Probability that a path leaks before anything was held: by the fitting's kind, a valve's, or what the section is. */
export function pathPrior(system: System, { what, id }: PathName): number {
  if (what === 'valve') return valvePrior
  if (what === 'fitting')
    return kindDefaults[system.fittings.find((f) => f.id === id)?.kind ?? 'other'].leakProbability
  const section = system.sections.find((s) => s.id === id)
  return elsewherePrior[section?.kind ?? ((section?.volumeM3 ?? 0) > tankFromM3 ? 'tank' : 'line')]
}
