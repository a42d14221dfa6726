import { hunt } from '#analysis/hunt/hunt.ts'
import type { NextStep } from '#analysis/hunt/next-steps.ts'
import type { Evidence } from '#analysis/model/evidence.ts'
import type { FittingKind, HoldSpec, System } from '#analysis/model/system.ts'
import { holdCoverage } from '#analysis/model/system-graph.ts'
import { type Random, seededRandom } from '#ingest/simulator/random.ts'
import {
  fitting,
  held,
  holdSpec,
  leak,
  marked,
  section,
  system,
  valve,
} from '../analysis/hunt/made-system.ts'

/** What happened in the hunt of one made-up system. */
export interface HuntedSystem {
  readonly seed: number
  readonly fittings: number
  readonly leaking: readonly string[]
  /** First fitting called, and whether it leaks; null where none was called. */
  readonly called: { readonly id: string; readonly leaks: boolean } | null
  /** Minutes until a leak had bubbled twice, was called or worked on; where none was, soap on every joint follows. */
  readonly minutes: number
  /** Minutes of soap on every joint under the failing pressure, in the order of the file, until a leak bubbles. */
  readonly soapMinutes: number
  /** Probability and truth of every held fitting after every step. */
  readonly told: readonly { readonly chance: number; readonly leaks: boolean }[]
  /** True where the hunt had nothing to advise while the leak was unfound. */
  readonly ranOut: boolean
}

const allowance = 1e-7
/** Costs of this world, [min]: own figures, as those of the hunt. */
const lookMin = 1
const walkMin = 1
const pumpUpMin = 3
const recheckMin = 2
const holdMin = 15
const workMin = 15
const mostSteps = 14
const kinds: readonly FittingKind[] = [
  'flare',
  'flare',
  'flare',
  'hose-end',
  'pipe-thread',
  'clamp',
  'drain-valve',
  'sender-gasket',
  'cap',
]
/** How much likelier than a flare a joint leaks: half of what the hunt believes, the rest is chance. */
const leaksLike: Readonly<Record<FittingKind, number>> = {
  flare: 5,
  'pipe-thread': 7,
  'hose-end': 4.5,
  'drain-valve': 8,
  'sender-gasket': 9,
  cap: 8,
  clamp: 7,
  other: 6,
}

/** Hunts one system by doing what the hunt advises first, until a fitting is called that leaks. */
export function huntSystem(seed: number): HuntedSystem {
  const random = seededRandom(seed, 77)
  const plane = randomSystem(random)
  const rates = randomLeaks(plane, random)
  const evidence: Evidence[] = []
  let minute = 0
  const hold = (spec: HoldSpec): void => {
    const of = { ...plane, holds: [spec] }
    // Sections that stand open to each other are one volume and one sum.
    const leaks = holdCoverage(of, spec).bodies.map((body) => {
      const sum = body.fittings.reduce((s, id) => s + (rates.get(id) ?? 0), 0)
      const std = allowance * random.uniform(0.04, 0.15)
      return leak(body.sections[0], sum * (1 + 0.04 * random.normal()) + std * random.normal(), std)
    })
    const isOver = leaks.some((l) => l.mol_per_s!.value > allowance)
    evidence.push(held(of, spec.id, minute, isOver ? 'fail' : 'pass', leaks))
    minute += 20
  }
  const [whole] = plane.holds
  hold(whole)
  const soapMinutes = soapEverything(plane, rates, random)
  let minutes = 0
  let isPumped = true
  let called: HuntedSystem['called'] = null
  let ranOut = false
  let isSeen = false
  const told: { chance: number; leaks: boolean }[] = []
  for (let step = 0; step < mostSteps; step++) {
    const found = hunt(plane, evidence)
    for (const f of found.fittings) if (f.held) told.push({ chance: f.leaking, leaks: rates.has(f.id) })
    const [first] = found.fittings
    if (first.leaking >= 0.9) {
      called = { id: first.id, leaks: rates.has(first.id) }
      break
    }
    if (rates.size === 0 || isSeen) break
    const [next] = found.next
    if (!next) {
      ranOut = true
      break
    }
    if (next.kind === 'hold') {
      minutes += holdMin
      hold(holdSpec(`step-${step}`, next.sections, next.shut))
      isPumped = false
    } else if (next.kind === 'work' && next.places.length === 0) {
      const [id] = next.fittings
      minutes += workMin + holdMin
      if (rates.has(id)) {
        isSeen = true
        break
      }
      evidence.push(marked('work', id, minute, { action: 'remake' }))
      minute += 20
      hold(whole)
      isPumped = false
    } else {
      if (next.kind === 'work') minutes += workMin
      if (!isPumped) minutes += pumpUpMin
      minutes += lookAround(next, step)
      isPumped = true
    }
  }
  const isFound = isSeen || called?.leaks
  return {
    seed,
    fittings: plane.fittings.length,
    leaking: [...rates.keys()],
    called,
    minutes: rates.size === 0 || isFound ? minutes : minutes + soapMinutes,
    soapMinutes,
    told,
    ranOut,
  }

  /** Looks in the order advised, until something bubbles; a bubble is looked at twice. */
  function lookAround(next: NextStep, step: number): number {
    const spec = holdSpec(`look-${step}`, next.sections, next.shut)
    evidence.push(held({ ...plane, holds: [spec] }, spec.id, minute, 'void'))
    let spent = 0
    let here: string | null = null
    for (const id of next.places) {
      const at = plane.fittings.find((f) => f.id === id)?.section ?? id
      spent += lookMin + (here === null || here === at ? 0 : walkMin)
      here = at
      const finding = findingAt(rates.get(id) ?? 0, random)
      evidence.push(marked('look', id, minute + 1 + spent / 60, { finding }))
      if (finding === 'bubbles') {
        spent += recheckMin
        const second = findingAt(rates.get(id) ?? 0, random)
        evidence.push(marked('look', id, minute + 1 + spent / 60, { finding: second }))
        if (second === 'bubbles') {
          isSeen = rates.has(id)
          break
        }
      }
    }
    minute += 20
    return spent
  }
}

function randomSystem(random: Random): System {
  const sections = Math.floor(random.uniform(2, 13))
  const count = Math.max(10, Math.min(60, Math.floor(random.uniform(3, 8) * sections)))
  const ids = Array.from({ length: sections }, (_, i) => `s${i}`)
  const fittings = Array.from({ length: count }, (_, n) =>
    fitting(`F${String(n + 1).padStart(2, '0')}`, ids[n % sections], { kind: random.pick(kinds) }),
  ).sort((a, b) => a.section.localeCompare(b.section) || a.id.localeCompare(b.id))
  const valves = ids
    .slice(1)
    .map((id, i) => valve(`V${i + 1}`, [ids[Math.floor(random.uniform(0, i + 1))], id]))
  return system(
    ids.map((id) => section(id)),
    fittings,
    valves,
    [holdSpec('whole', ids, [])],
  )
}

/** One leak in seven of ten systems, two in two, none in one; sizes even in the logarithm from half the allowance to 30 times. */
function randomLeaks(plane: System, random: Random): Map<string, number> {
  const draw = random.uniform(0, 1)
  const count = draw < 0.1 ? 0 : draw < 0.8 ? 1 : 2
  const rates = new Map<string, number>()
  const total = plane.fittings.reduce((sum, f) => sum + leaksLike[f.kind], 0)
  while (rates.size < count) {
    let at = random.uniform(0, total)
    let joint = plane.fittings[0]
    for (const f of plane.fittings) {
      joint = f
      at -= leaksLike[f.kind]
      if (at < 0) break
    }
    rates.set(joint.id, 0.5 * allowance * 60 ** random.uniform(0, 1))
  }
  return rates
}

function soapEverything(plane: System, rates: ReadonlyMap<string, number>, random: Random): number {
  let minutes = 0
  if (rates.size === 0) return plane.fittings.length * lookMin
  for (let round = 0; round < 5; round++) {
    let here = plane.fittings[0].section
    for (const f of plane.fittings) {
      minutes += lookMin + (f.section === here ? 0 : walkMin)
      here = f.section
      if (findingAt(rates.get(f.id) ?? 0, random) !== 'bubbles') continue
      minutes += recheckMin
      if (rates.has(f.id) && findingAt(rates.get(f.id)!, random) === 'bubbles') return minutes
    }
  }
  return minutes
}

/**
 * A leak of 0.02 scc/min (0 °C) shows every second time; 3 looks of 100 at a tight joint find a sign of one. One sign in ten
 * is a seep, right or wrong: no word of a watcher is infallible.
 */
function findingAt(molPerS: number, random: Random): string {
  const seen = molPerS > 0 && random.chance((0.95 * molPerS) / (molPerS + 1.487e-8))
  if (seen || random.chance(0.03)) return random.chance(0.9) ? 'bubbles' : 'seep'
  return random.chance(0.05) ? 'stain' : 'dry'
}
