import { normalCdf } from '#analysis/numeric/normal-distribution.ts'
import type { SeenTogether } from './isolations.ts'
import { repeatability } from './leak-figures.ts'
import type { LeakProblem, Present } from './leak-problem.ts'
import { type EvidenceProblem, type PathName, verdictOnly } from './problem-of-evidence.ts'

/** A hold with more bodies than this is reduced to the question which one leaks. */
const mostBodies = 3

/** Predicted outcomes of a future hold, given the present leaks. */
export function holdOutlook({ problem, names, allowanceMolPerS }: EvidenceProblem) {
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
  const pathOf = new Map(names.map(({ what, id }, p) => [`${what} ${id}`, p]))
  const pathsOf = (what: PathName['what'], ids: readonly string[]): number[] =>
    ids.flatMap((id) => pathOf.get(`${what} ${id}`) ?? [])
  const withoutValves = (seen: SeenTogether): ReadonlySet<number> =>
    new Set([...pathsOf('fitting', seen.fittings), ...pathsOf('section', seen.sections)])
  const among = (paths: Iterable<number>): Uint8Array => {
    const isAmong = new Uint8Array(names.length)
    for (const p of paths) isAmong[p] = 1
    return isAmong
  }
  const outcomes = (seen: SeenTogether, thresholdStd: number): ((present: Present) => OutcomeChances) => {
    const mine = withoutValves(seen)
    const paths = among([...mine, ...pathsOf('valve', seen.valves)])
    if (problem.rows.length === 0) return (present) => verdictChances(paths, present)
    const larger = known.find(
      (k) => k.fittings.length > mine.size && [...mine].every((p) => k.fittings.includes(p)),
    )
    const whole = larger ? among(larger.paths) : null
    return (present) => measuredChances(paths, whole, present, noise, thresholdStd)
  }
  return {
    /** True when these sections were measured well enough since the last work. */
    isKnown: (seen: SeenTogether): boolean => {
      const mine = withoutValves(seen)
      return known.some(
        (k) => k.sharp && k.fittings.length === mine.size && k.fittings.every((p) => mine.has(p)),
      )
    },
    /**
     * For each present, the outcome chances of each held body: `[tight, leaks]`, or `[tight, part of the known leak, all of it]`
     * if a larger hold is known; for many bodies those of `whichOne`.
     */
    observations: (measured: readonly SeenTogether[], presents: readonly Present[]): OutcomeChances[][] => {
      const seen = problem.rows.length === 0 ? [together(measured)] : measured
      // Among many gauges, some exceed twice their noise without a leak.
      const thresholdStd = seen.length > mostBodies ? 3 : 2
      const bodies = seen.map((body) => outcomes(body, thresholdStd))
      if (bodies.length > mostBodies)
        return presents.map((present) => [whichOne(bodies.map((chances) => chances(present)[0]))])
      return presents.map((present) => bodies.map((chances) => chances(present)))
    },
  }
}

/** If holds give only a verdict, one verdict covers all held sections. */
function together(measured: readonly SeenTogether[]): SeenTogether {
  const all = (key: keyof SeenTogether) => measured.flatMap((m) => m[key])
  return {
    sections: all('sections'),
    channels: all('channels'),
    fittings: all('fittings'),
    valves: all('valves'),
  }
}

function verdictChances(paths: Uint8Array, { leaks: now }: Present): OutcomeChances {
  const leaks = now.some((l) => paths[l.path]) ? verdictOnly.detection : verdictOnly.falseAlarm
  return [1 - leaks, leaks]
}

function sumOf(among: Uint8Array, { leaks }: Present): number {
  let sum = 0
  for (const { path, molPerS } of leaks) if (among[path]) sum += molPerS
  return sum
}

/** Planning calls this a million times, so paths are marked in a column, not searched. */
function measuredChances(
  paths: Uint8Array,
  larger: Uint8Array | null,
  present: Present,
  noise: number,
  thresholdStd: number,
): OutcomeChances {
  const leak = sumOf(paths, present)
  const seen = normalCdf((leak - thresholdStd * noise) / Math.hypot(noise, repeatability * leak))
  if (larger === null) return [1 - seen, seen]
  const whole = sumOf(larger, present)
  const spread = Math.hypot(noise, repeatability * whole)
  const all = normalCdf((2 * spread - (whole - leak)) / spread)
  return [1 - seen, seen * (1 - all), seen * all]
}

/** Typical standard uncertainty of the leak from this system's holds so far, [mol/s]. */
function typicalNoise(problem: LeakProblem, allowance: number): number {
  const reached = problem.rows
    .map((r) => Math.sqrt(Math.max(0, r.stdMolPerS ** 2 - (repeatability * r.molPerS) ** 2)))
    .sort((a, b) => a - b)
  return Math.max(allowance / 20, reached[Math.floor(reached.length / 2)] ?? 0)
}

/** Outcome probabilities of one observation, given one possible present. They sum to 1. */
export type OutcomeChances = readonly number[]

/**
 * Expected information of a step about the present, I = H(outcome) − E[H(outcome | present)], [bit].
 *
 * @param presents possible ones, their weights summing to 1.
 * @param observations for each present, the outcome chances of each independent observation of the step.
 * *Source*: Shannon 1948.
 * *Check*: four fittings, a pair, docs/method.md section 7: 0.71359 bit (computed, exact).
 */
export function expectedInformation(
  presents: readonly Pick<Present, 'weight'>[],
  observations: readonly (readonly OutcomeChances[])[],
): number {
  const joint = new Float64Array(jointChances(observations[0] ?? []).length)
  let conditional = 0
  presents.forEach(({ weight }, s) => {
    const chances = jointChances(observations[s])
    for (let o = 0; o < joint.length; o++) joint[o] += weight * chances[o]
    for (const each of observations[s]) conditional += weight * entropy(each)
  })
  return Math.max(0, entropy(joint) - conditional)
}

/** Probabilities of all combinations of outcomes. */
export function jointChances(observations: readonly OutcomeChances[]): OutcomeChances {
  let joint: readonly number[] = observations[0] ?? [1]
  for (let i = 1; i < observations.length; i++) {
    const each = observations[i]
    joint = joint.flatMap((p) => each.map((q) => p * q))
  }
  return joint
}

/** Probabilities of `[all tight, only the first leaks, …, only the last, several]` from those that each is tight. */
function whichOne(tight: readonly number[]): OutcomeChances {
  const chances: number[] = [1]
  for (const t of tight) chances[0] *= t
  let sum = 0
  for (let i = 0; i < tight.length; i++) {
    let product = 1
    for (let j = 0; j < tight.length; j++) product *= i === j ? 1 - tight[j] : tight[j]
    chances.push(product)
    sum += product
  }
  chances.push(Math.max(0, 1 - chances[0] - sum))
  return chances
}

/** [bit]. */
function entropy(chances: ArrayLike<number>): number {
  let bits = 0
  for (let i = 0; i < chances.length; i++) if (chances[i] > 0) bits -= chances[i] * Math.log2(chances[i])
  return bits
}
