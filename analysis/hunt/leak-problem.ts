/**
 * What the hunt infers: paths that may leak, each with a history of states parted by work, seen through sums.
 *
 * A path is off or leaks at a constant rate over a run of epochs. Rates of leaking paths follow a mixture of normals
 * spaced evenly in the logarithm, so that every sum of leaks measured with normal noise has a likelihood in closed
 * form: counting and sampling then answer the same question, and can be checked against each other.
 */
export interface LeakProblem {
  readonly rates: RateMixture
  readonly paths: readonly LeakPath[]
  readonly rows: readonly LeakRow[]
  readonly verdictRows: readonly VerdictRow[]
}

/** Prior of the rate of a leaking path, [mol/s]: one normal a class. */
export interface RateMixture {
  readonly mean: readonly number[]
  readonly std: readonly number[]
  readonly weight: readonly number[]
}

export interface LeakPath {
  /** Probability that it leaks in its first epoch. */
  readonly prior: number
  /** Between one epoch and the next; one fewer than epochs. */
  readonly breaks: readonly { readonly cure: number; readonly unchanged: number; readonly harm: number }[]
  /** Log likelihood of the looks in each epoch, `[off, class 0, class 1, …]`; null where nothing was looked at. */
  readonly looks: readonly (readonly number[] | null)[]
}

export interface LeakTerm {
  readonly path: number
  readonly epoch: number
  readonly factor: number
}

/** A measured sum: `leak = Σ factor·rate + noise`. */
export interface LeakRow {
  readonly molPerS: number
  readonly stdMolPerS: number
  readonly terms: readonly LeakTerm[]
}

/** A hold of which only the verdict is known. */
export interface VerdictRow {
  readonly leaks: boolean
  /** P(the hold says 'leaks' | one of its paths leaks), and P(the same | none does). */
  readonly detection: number
  readonly falseAlarm: number
  readonly terms: readonly LeakTerm[]
}

/** One possible present, with its share of the probability. */
export interface Particle {
  readonly weight: number
  /** Rate of each path in its last epoch, [mol/s]; 0 when it does not leak. */
  readonly rates: Float64Array
}

export interface PathPosterior {
  readonly leaking: number
  /** Standard error of `leaking`. */
  readonly error: number
  /** If it leaks: median and 95 % interval, [mol/s]; null when its probability is under 1 %. */
  readonly rate: { readonly value: number; readonly low: number; readonly high: number } | null
}

export interface Posterior {
  readonly method: 'exact' | 'sampled'
  readonly count: number
  readonly paths: readonly PathPosterior[]
  readonly particles: readonly Particle[]
}

const classRatio = 2
const classes = 12

/**
 * Even in the logarithm over 3½ decades upward of a quarter of the allowance: smaller leaks do not matter here.
 * A spread of 0.3 of the mean at a spacing of 2 leaves no holes between the classes.
 *
 * @param allowanceMolPerS what matters, [mol/s], > 0.
 */
export function rateMixture(allowanceMolPerS: number): RateMixture {
  if (!(allowanceMolPerS > 0)) throw new RangeError(`allowance must be above 0, got ${allowanceMolPerS}`)
  const mean = Array.from({ length: classes }, (_, k) => 0.25 * allowanceMolPerS * classRatio ** k)
  return { mean, std: mean.map((m) => 0.3 * m), weight: mean.map(() => 1 / classes) }
}

/** Where nothing was measured, only whether a path leaks matters: one class. */
export function singleRate(molPerS: number): RateMixture {
  return { mean: [molPerS], std: [0.3 * molPerS], weight: [1] }
}

/** Classes that the measured sums leave possible for a path: a leak cannot exceed by far a sum it is part of. */
export function possibleClasses(problem: LeakProblem, path: number): number[] {
  const { mean, std } = problem.rates
  const limiting = problem.rows.filter(
    (row) => row.terms.some((t) => t.path === path) && row.terms.every((t) => t.factor > 0),
  )
  const everyEpoch = problem.paths[path].breaks.length === 0
  return mean
    .map((_, k) => k)
    .filter((k) => {
      if (!everyEpoch) return true
      return limiting.every((row) => {
        const factor = row.terms.find((t) => t.path === path)!.factor
        const spread = Math.hypot(row.stdMolPerS, factor * std[k])
        return factor * mean[k] - row.molPerS < 7 * spread
      })
    })
}
