/**
 * The hunt's inference problem: paths that may leak, each with a history of states split by work, observed as sums.
 *
 * A path is off or leaks at a constant rate over a run of epochs. Rates of leaking paths follow a mixture of normals
 * spaced evenly in the logarithm and cut at zero, so that every sum of leaks measured with normal noise has a
 * likelihood in closed form.
 */
export interface LeakProblem {
  readonly rates: RateMixture
  readonly paths: readonly LeakPath[]
  readonly rows: readonly LeakRow[]
  readonly verdictRows: readonly VerdictRow[]
}

/** Prior of the rate of a leaking path, [mol/s]: one normal per class. */
export interface RateMixture {
  readonly mean: readonly number[]
  readonly std: readonly number[]
  readonly weight: readonly number[]
}

export interface LeakPath {
  /** Probability that it leaks in its first epoch. */
  readonly prior: number
  /** Between one epoch and the next; one fewer than epochs. */
  readonly breaks: readonly EpochBreak[]
  /** Log likelihood of the looks in each epoch, `[off, class 0, class 1, …]`; null for an epoch without looks. */
  readonly looks: readonly (readonly number[] | null)[]
}

/** Transition of a path between epochs: probabilities. A leak is cured, is unchanged or changes; a tight path begins to leak. */
export interface EpochBreak {
  readonly cure: number
  readonly unchanged: number
  readonly harm: number
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

/** A hold with only a known verdict. */
export interface VerdictRow {
  readonly leaks: boolean
  /** P(verdict 'leaks' | one of its paths leaks), and P(same | none leaks). */
  readonly detection: number
  readonly falseAlarm: number
  readonly terms: readonly LeakTerm[]
}

/** One possible present state, with its probability. */
export interface Present {
  readonly weight: number
  /** Paths that leak in their last epoch, and their rates, [mol/s]. */
  readonly leaks: readonly { readonly path: number; readonly molPerS: number }[]
}

export interface PathPosterior {
  readonly leaking: number
  /** If it leaks: median and 95 % interval, [mol/s]; null when its probability is under 1 %. */
  readonly rate: { readonly value: number; readonly low: number; readonly high: number } | null
}

/**
 * The same problem without the epochs of which no sum, verdict or look tells anything: the breaks about them become one.
 * Exact, since the state of a path depends on the epoch before alone. The last epoch stays: it is now.
 */
export function withoutSilentEpochs(problem: LeakProblem): LeakProblem {
  const kept = problem.paths.map(({ looks }) =>
    looks.map((look, e) => look !== null || e === looks.length - 1),
  )
  for (const { terms } of [...problem.rows, ...problem.verdictRows])
    for (const { path, epoch } of terms) kept[path][epoch] = true
  const indexOf = kept.map((epochs) => epochs.map((_, e) => epochs.slice(0, e).filter(Boolean).length))
  const renumbered = <T extends { readonly terms: readonly LeakTerm[] }>(row: T): T => ({
    ...row,
    terms: row.terms.map((term) => ({ ...term, epoch: indexOf[term.path][term.epoch] })),
  })
  return {
    ...problem,
    rows: problem.rows.map(renumbered),
    verdictRows: problem.verdictRows.map(renumbered),
    paths: problem.paths.map(({ prior, breaks, looks }, p): LeakPath => {
      const first = kept[p].indexOf(true)
      const merged: EpochBreak[] = []
      for (let e = first, from = first; e < breaks.length; e++)
        if (kept[p][e + 1]) {
          merged.push(breaks.slice(from, e + 1).reduce(inTurn))
          from = e + 1
        }
      const { cure, harm } = breaks.slice(0, first).reduce(inTurn, { cure: 0, unchanged: 1, harm: 0 })
      return {
        prior: prior * (1 - cure) + (1 - prior) * harm,
        breaks: merged,
        looks: looks.filter((_, e) => kept[p][e]),
      }
    }),
  }
}

/** Two breaks, one after the other, as one. */
function inTurn(one: EpochBreak, next: EpochBreak): EpochBreak {
  return {
    cure: (1 - one.cure) * next.cure + one.cure * (1 - next.harm),
    unchanged: one.unchanged * next.unchanged,
    harm: (1 - one.harm) * next.harm + one.harm * (1 - next.cure),
  }
}

const classRatio = 1.6
const relativeStd = 0.2
const fewestClasses = 14

/**
 * Classes spaced evenly in the logarithm from a quarter of the allowance, below which leaks do not matter, to beyond the
 * largest measured sum, at least 2½ decades. A spread of 0.2 of the mean at a ratio of 1.6 leaves no gaps between the
 * classes, and puts 3 in 10 million of a class below zero.
 *
 * @param allowanceMolPerS allowed leak, [mol/s], > 0.
 * @param largestMolPerS largest measured sum, [mol/s].
 */
export function rateMixture(allowanceMolPerS: number, largestMolPerS = 0): RateMixture {
  if (!(allowanceMolPerS > 0)) throw new RangeError(`allowance must be above 0, got ${allowanceMolPerS}`)
  const smallest = 0.25 * allowanceMolPerS
  const reach = Math.ceil(Math.log(Math.max(1, (1.5 * largestMolPerS) / smallest)) / Math.log(classRatio))
  const classes = Math.max(fewestClasses, reach + 1)
  const mean = Array.from({ length: classes }, (_, k) => smallest * classRatio ** k)
  return { mean, std: mean.map((m) => relativeStd * m), weight: mean.map(() => 1 / classes) }
}

/** Without measurements only the presence of a leak matters: one class. */
export function singleRate(molPerS: number): RateMixture {
  return { mean: [molPerS], std: [relativeStd * molPerS], weight: [1] }
}
