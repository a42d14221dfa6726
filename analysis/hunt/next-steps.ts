import type { NextStep } from '#analysis/model/hunt.ts'
import type { Fitting, System } from '#analysis/model/system.ts'
import { expectedInformation, type OutcomeChances } from './expected-information.ts'
import { type HoldOutlook, holdOutlook } from './hold-outlook.ts'
import { type Isolation, possibleIsolations } from './isolations.ts'
import type { Particle, Posterior } from './leak-problem.ts'
import { lookDetection, lookFalseAlarm } from './look-likelihood.ts'
import type { EvidenceProblem } from './problem-of-evidence.ts'

/** Pumping a section up for a look, and the look at one fitting, [min]. Own figures. */
const lookSetupMin = 3
const lookMin = 1.5
const mostLooksTogether = 4
/** A third look at an untouched joint sees what the first two saw. */
const mostLooks = 2
/** A measured hold of more bodies than this is judged by the first ones. */
const mostBodies = 3
const particlesUsed = 1000
/** Less than this is not worth a walk round the wing, [bit]. */
const leastBits = 0.01

/** Holds and looks worth doing next, best first by expected bits a minute. */
export function nextSteps(
  system: System,
  evidence: EvidenceProblem,
  posterior: Posterior,
  looksDone: ReadonlyMap<string, number>,
  most = 5,
): NextStep[] {
  const presents = heaviest(posterior.particles)
  const worthwhile = (steps: NextStep[]): NextStep[] =>
    steps
      .filter((s) => s.bits >= leastBits)
      .sort((a, b) => b.bits_per_minute - a.bits_per_minute || a.fittings.length - b.fittings.length)
  const holds = worthwhile(holdSteps(system, evidence, posterior, presents))
  const looks = onePerSection(worthwhile(lookSteps(system, evidence, posterior, presents, looksDone)))
  const best = worthwhile([...holds, ...looks]).slice(0, most)
  // Whoever has no soap at hand, or no time for a hold, still finds what to do.
  for (const kind of [holds, looks])
    if (kind.length > 0 && !best.includes(kind[0])) best.splice(most - 1, 1, kind[0])
  return best
}

/** Of the looks at one section only the best: the others are parts of it. */
function onePerSection(looks: readonly NextStep[]): NextStep[] {
  return looks.filter((l, i) => looks.findIndex((other) => other.sections[0] === l.sections[0]) === i)
}

function heaviest(particles: readonly Particle[]): Particle[] {
  const kept = [...particles].sort((a, b) => b.weight - a.weight).slice(0, particlesUsed)
  const total = kept.reduce((sum, p) => sum + p.weight, 0)
  return kept.map((p) => ({ rates: p.rates, weight: p.weight / total }))
}

function holdSteps(
  system: System,
  evidence: EvidenceProblem,
  posterior: Posterior,
  presents: readonly Particle[],
): NextStep[] {
  const outlook = holdOutlook(evidence)
  const weights = presents.map((p) => p.weight)
  return possibleIsolations(system)
    .filter((isolation) => !isolation.measured.every((seen) => outlook.isKnown(seen)))
    .map((isolation): NextStep => {
      const observed = observations(isolation, outlook, presents)
      const minutes = isolation.seconds / 60
      const bits = expectedInformation(weights, observed)
      return {
        kind: 'hold',
        title: holdTitle(isolation),
        hold: isolation.hold,
        sections: isolation.sections,
        shut: isolation.shut,
        fittings: isolation.covered,
        bits,
        minutes,
        bits_per_minute: bits / minutes,
        why: holdReason(system, isolation, evidence, posterior, chanceOfLeak(weights, observed)),
      }
    })
}

function observations(
  isolation: Isolation,
  outlook: HoldOutlook,
  presents: readonly Particle[],
): OutcomeChances[][] {
  const seen = isolation.measured.slice(0, mostBodies).map((m) => outlook.outcomes(m))
  return presents.map(({ rates }) => seen.map((chances) => chances(rates)))
}

function chanceOfLeak(weights: readonly number[], observed: readonly (readonly OutcomeChances[])[]): number {
  return weights.reduce((sum, w, i) => sum + w * (1 - observed[i].reduce((tight, o) => tight * o[0], 1)), 0)
}

function lookSteps(
  system: System,
  { names }: EvidenceProblem,
  posterior: Posterior,
  presents: readonly Particle[],
  looksDone: ReadonlyMap<string, number>,
): NextStep[] {
  const weights = presents.map((p) => p.weight)
  const pathOf = (id: string): number => names.findIndex((n) => n.what === 'fitting' && n.id === id)
  const steps: NextStep[] = []
  for (const section of system.sections) {
    const suspects = system.fittings
      .filter((f) => f.section === section.id && (looksDone.get(f.id) ?? 0) < mostLooks)
      .sort((a, b) => posterior.paths[pathOf(b.id)].leaking - posterior.paths[pathOf(a.id)].leaking)
    for (let n = 1; n <= Math.min(suspects.length, mostLooksTogether); n++) {
      const chosen = suspects.slice(0, n)
      const paths = chosen.map((f) => pathOf(f.id))
      const observed = presents.map(({ rates }) =>
        paths.map((p, i): OutcomeChances => {
          const fresh = looksDone.has(chosen[i].id) ? 0.5 : 1
          const shows = rates[p] > 0 ? fresh * lookDetection(rates[p], true) : 0
          const found = shows + (1 - shows) * lookFalseAlarm
          return [1 - found, found]
        }),
      )
      const bits = expectedInformation(weights, observed)
      const minutes = lookSetupMin + n * lookMin
      steps.push({
        kind: 'look',
        title: `Look at ${listed(chosen.map((f) => f.id))} with soap solution while ${section.id} is under pressure`,
        hold: null,
        sections: [section.id],
        shut: [],
        fittings: chosen.map((f) => f.id),
        bits,
        minutes,
        bits_per_minute: bits / minutes,
        why: lookReason(chosen, paths, posterior, minutes),
      })
    }
  }
  return steps
}

function holdTitle(isolation: Isolation): string {
  if (isolation.hold !== null) return `Hold ${isolation.hold}`
  const shut = isolation.shut.length > 0 ? ` with ${listed(isolation.shut)} shut` : ''
  const pressure =
    isolation.pressurePa === null ? '' : `, at ${(isolation.pressurePa / 1000).toFixed(1)} kPa gauge`
  return `Hold ${isolation.sections.join(' + ')}${shut}${pressure}`
}

function holdReason(
  system: System,
  isolation: Isolation,
  { names }: EvidenceProblem,
  posterior: Posterior,
  leaks: number,
): string {
  const inside = isolation.covered.length
  const suspects = (ids: readonly string[]): number =>
    ids.filter(
      (id) => posterior.paths[names.findIndex((n) => n.what === 'fitting' && n.id === id)].leaking > 0.005,
    ).length
  const outside = suspects(system.fittings.map((f) => f.id)) - suspects(isolation.covered)
  const joints = `${inside} fitting${inside === 1 ? '' : 's'}`
  if (outside === 0)
    return `It holds all that is still in question at once; a leak is ${percent(leaks)} likely to show.`
  return `It parts the suspects: ${percent(leaks)} likely to show a leak among its ${joints}; if it is tight the search goes on among ${outside} other${outside === 1 ? '' : 's'}.`
}

function lookReason(
  chosen: readonly Fitting[],
  paths: readonly number[],
  posterior: Posterior,
  minutes: number,
): string {
  const each = chosen.map((f, i) => `${f.id} ${percent(posterior.paths[paths[i]].leaking)}`)
  return `A look takes ${minutes} min and goes to the likeliest here: ${listed(each)}.`
}

function percent(p: number): string {
  return p > 0 && p < 0.01 ? 'under 1 %' : `${Math.round(100 * p)} %`
}

function listed(items: readonly string[]): string {
  return items.length < 2 ? items.join('') : `${items.slice(0, -1).join(', ')} and ${items.at(-1)}`
}
