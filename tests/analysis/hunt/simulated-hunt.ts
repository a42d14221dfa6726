import { entropy } from '#analysis/hunt/expected-information.ts'
import { hunt } from '#analysis/hunt/hunt.ts'
import { leakPosterior } from '#analysis/hunt/posterior.ts'
import { problemOfEvidence } from '#analysis/hunt/problem-of-evidence.ts'
import { normalDraw, type Random, seededRandom } from '#analysis/hunt/random.ts'
import type { Evidence } from '#analysis/model/evidence.ts'
import type { HuntResult, NextStep } from '#analysis/model/hunt.ts'
import type { HoldSpec, System } from '#analysis/model/system.ts'
import { fitting, held, holdSpec, leak, marked, section, system, valve } from './made-system.ts'

export interface HuntedSystem {
  /** Fittings that truly leak. */
  readonly leaking: readonly string[]
  readonly named: readonly string[]
  /** True when the likeliest fittings, as many as leak, are the ones that do. */
  readonly right: boolean
  readonly holds: number
  readonly looks: number
  /** Entropy of 'which sections leak' after the first whole hold, [bit]: at one bit a hold, the fewest holds. */
  readonly boundHolds: number
}

const allowance = 1e-7
const holdStd = 0.08 * allowance
const mostSteps = 40

/**
 * A made-up system of sections in a random tree, hunted by doing what the hunt says: first holds until the sections
 * are told apart, then looks. Leaks, noise and findings come from a seed.
 */
export function huntSimulated(
  seed: number,
  sections: number,
  perSection: number,
  leaks: number,
): HuntedSystem {
  const random = seededRandom(seed)
  const tree = randomTree(random, sections, perSection)
  const rates = new Map<string, number>()
  const ids = tree.fittings.map((f) => f.id)
  while (rates.size < leaks)
    rates.set(ids[Math.floor(random() * ids.length)], allowance * 2 ** (5 * random()))

  const evidence: Evidence[] = []
  let minute = 0
  const make = (spec: HoldSpec): void => {
    const inside = tree.fittings.filter((f) => spec.sections.includes(f.section))
    const rate = inside.reduce((sum, f) => sum + (rates.get(f.id) ?? 0), 0)
    const measured = rate + holdStd * normalDraw(random)
    const of = { ...tree, holds: [...tree.holds, spec] }
    evidence.push(
      held(of, spec.id, minute, measured > allowance ? 'fail' : 'pass', [
        leak(spec.sections[0], measured, holdStd),
      ]),
    )
    minute += 20
  }
  make(tree.holds[0])
  let found = hunt(tree, evidence)
  const boundHolds = sectionEntropy(tree, evidence)
  let holds = 0
  let looks = 0
  for (let step = 0; step < mostSteps; step++) {
    const next = pickStep(found)
    if (next === null) break
    if (next.kind === 'hold') {
      holds++
      make({ ...holdSpec(`step-${step}`, next.sections, next.shut) })
    } else {
      const spec = holdSpec(`look-${step}`, next.sections, closing(tree, next.sections))
      evidence.push(held({ ...tree, holds: [spec] }, spec.id, minute, 'void'))
      for (const id of next.fittings) {
        looks++
        evidence.push(marked('look', id, minute + 3, { finding: findingAt(rates.get(id) ?? 0, random) }))
      }
      minute += 20
    }
    found = hunt(tree, evidence)
  }
  const named = found.fittings.slice(0, leaks).map((f) => f.id)
  return {
    leaking: [...rates.keys()].sort(),
    named,
    right: named.every((id) => rates.has(id)),
    holds,
    looks,
    boundHolds,
  }
}

/** The best hold while sections are in doubt, then the best look while fittings are; null when all is told. */
function pickStep(found: HuntResult): NextStep | null {
  const hold = found.next.find((s) => s.kind === 'hold')
  const look = found.next.find((s) => s.kind === 'look')
  const doubtful = found.sections.some((s) => s.leaking > 0.1 && s.leaking < 0.9)
  if (doubtful && hold) return hold
  return found.fittings.some((f) => f.leaking > 0.1 && f.leaking < 0.9) ? (look ?? null) : null
}

function sectionEntropy(tree: System, evidence: readonly Evidence[]): number {
  const { problem, names } = problemOfEvidence(tree, evidence)
  const chances = new Map<string, number>()
  for (const { weight, rates } of leakPosterior(problem).particles) {
    const sections = names.flatMap(({ what, id }, p) => {
      if (rates[p] === 0 || what === 'valve') return []
      return [what === 'section' ? id : tree.fittings.find((f) => f.id === id)!.section]
    })
    const key = [...new Set(sections)].sort().join()
    chances.set(key, (chances.get(key) ?? 0) + weight)
  }
  return entropy([...chances.values()])
}

function closing(tree: System, sections: readonly string[]): string[] {
  return tree.valves
    .filter((v) => v.between.filter((s) => sections.includes(s)).length === 1)
    .map((v) => v.id)
}

function randomTree(random: Random, sections: number, perSection: number): System {
  const ids = Array.from({ length: sections }, (_, i) => `s${i}`)
  return system(
    ids.map((id) => section(id)),
    ids.flatMap((id) => Array.from({ length: perSection }, (_, n) => fitting(`${id}-F${n}`, id))),
    ids.slice(1).map((id, i) => valve(`V${i + 1}`, [ids[Math.floor(random() * (i + 1))], id])),
    [holdSpec('whole', ids, [])],
  )
}

function findingAt(molPerS: number, random: Random): string {
  const seen = molPerS > 0 && random() < (0.95 * molPerS) / (molPerS + 0.15 * allowance)
  return seen ? 'bubbles' : random() < 0.04 ? 'stain' : 'dry'
}
