import { type OutcomeChances, roughNormalCdf } from './expected-information.ts'
import type { SeenTogether } from './isolations.ts'
import { repeatability } from './leak-figures.ts'
import type { LeakProblem, Present } from './leak-problem.ts'
import type { PathName } from './path-prior.ts'
import { type EvidenceProblem, verdictOnly } from './problem-of-evidence.ts'

/** What a hold not yet made would say, given the leaks that there are. */
export interface HoldOutlook {
  /** Chances of `[tight, leaks]`, or `[tight, part of the known leak, all of it]` where a larger hold is known. */
  outcomes(seen: SeenTogether): (present: Present) => OutcomeChances
  /** True when this very thing was measured well enough since the last work. */
  isKnown(seen: SeenTogether): boolean
}

export function holdOutlook({ problem, names, allowanceMolPerS }: EvidenceProblem): HoldOutlook {
  const noise = typicalNoise(problem, allowanceMolPerS)
  const current = problem.rows
    .map((row) => ({
      row,
      paths: row.terms
        .filter((t) => t.factor > 0 && t.epoch === problem.paths[t.path].breaks.length)
        .map((t) => t.path),
    }))
    .filter(({ row, paths }) => paths.length === row.terms.length)
  const known = current.map(({ row, paths }) => ({
    fittings: paths.filter((p) => names[p].what !== 'valve'),
    paths,
    sharp: row.stdMolPerS <= 2 * Math.hypot(noise, repeatability * row.molPerS),
  }))
  return {
    isKnown: (seen) => {
      const mine = new Set(pathsOf(names, seen, false))
      return known.some(
        (k) => k.sharp && k.fittings.length === mine.size && k.fittings.every((p) => mine.has(p)),
      )
    },
    outcomes: (seen) => {
      const paths = pathsOf(names, seen, true)
      if (problem.rows.length === 0) return (present) => verdictChances(paths, present)
      const mine = new Set(pathsOf(names, seen, false))
      const larger = known.find(
        (k) => k.fittings.length > mine.size && [...mine].every((p) => k.fittings.includes(p)),
      )
      return (present) => measuredChances(paths, larger?.paths ?? null, present, noise)
    },
  }
}

function pathsOf(names: readonly PathName[], seen: SeenTogether, withValves: boolean): number[] {
  return names.flatMap(({ what, id }, p) => {
    const list =
      what === 'fitting' ? seen.fittings : what === 'section' ? seen.sections : withValves ? seen.valves : []
    return list.includes(id) ? [p] : []
  })
}

function verdictChances(paths: readonly number[], { leaks: now }: Present): OutcomeChances {
  const leaks = now.some((l) => paths.includes(l.path)) ? verdictOnly.detection : verdictOnly.falseAlarm
  return [1 - leaks, leaks]
}

function measuredChances(
  paths: readonly number[],
  larger: readonly number[] | null,
  { leaks }: Present,
  noise: number,
): OutcomeChances {
  const sumOf = (among: readonly number[]): number =>
    leaks.reduce((sum, l) => (among.includes(l.path) ? sum + l.molPerS : sum), 0)
  const leak = sumOf(paths)
  const seen = roughNormalCdf((leak - 2 * noise) / Math.hypot(noise, repeatability * leak))
  if (larger === null) return [1 - seen, seen]
  const whole = sumOf(larger)
  const spread = Math.hypot(noise, repeatability * whole)
  const all = roughNormalCdf((2 * spread - (whole - leak)) / spread)
  return [1 - seen, seen * (1 - all), seen * all]
}

/** Standard uncertainty of the leak that holds of this system have reached so far, [mol/s]. */
function typicalNoise(problem: LeakProblem, allowance: number): number {
  const reached = problem.rows
    .map((r) => Math.sqrt(Math.max(0, r.stdMolPerS ** 2 - (repeatability * r.molPerS) ** 2)))
    .sort((a, b) => a - b)
  return Math.max(allowance / 20, reached[Math.floor(reached.length / 2)] ?? allowance / 4)
}
