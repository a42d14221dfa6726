import type { HoldAnalysis, SectionLeak, Verdict } from '#analysis/model/hold-result.ts'
import type { SimulatedHold } from '#tests/simulator/simulate-hold.ts'
import { type NaiveAnswer, pressureOverTemperature, rawDrop } from './naive-methods.ts'

/** One simulated hold and what each method said of it. */
export interface Trial {
  readonly situation: string
  readonly kind: 'line' | 'tank'
  readonly seed: number
  readonly leakOverAllowance: number
  readonly truthDropPa: number
  readonly truthMolPerS: number
  readonly verdict: Verdict
  readonly reasons: readonly string[]
  readonly drop: SectionLeak['drop_Pa'] | null
  readonly mol: SectionLeak['mol_per_s'] | null
  readonly analysisMs: number
  readonly samples: number
  readonly raw: NaiveAnswer
  readonly regression: NaiveAnswer
}

export function trialOf(
  situation: string,
  seed: number,
  hold: SimulatedHold,
  analyses: readonly HoldAnalysis[],
  analysisMs: number,
): Trial {
  if (analyses.length !== 1)
    throw new Error(`seed ${seed} of '${situation}': ${analyses.length} holds analyzed, 1 played`)
  const { result } = analyses[0]
  const leak = (Array.isArray(result.leak) ? result.leak[0] : result.leak) as SectionLeak | null
  return {
    situation,
    kind: hold.scenario.stated.kind,
    seed,
    leakOverAllowance: hold.truth.leakOverAllowance,
    truthDropPa: hold.truth.dropPa,
    truthMolPerS: hold.truth.molPerS,
    verdict: result.verdict,
    reasons: result.reasons.map((reason) => reason.code),
    drop: leak?.drop_Pa ?? null,
    mol: leak?.mol_per_s ?? null,
    analysisMs,
    samples: hold.recording.channels[0].timeS.length,
    raw: rawDrop(hold.recording, hold.system),
    regression: pressureOverTemperature(hold.recording, hold.system),
  }
}

/** Shares are between 0 and 1; null when no trial bears on them. */
export interface Score {
  readonly trials: number
  readonly dropCoverage: number | null
  readonly molCoverage: number | null
  /** Passes among holds that leak at or above the allowance, and among those at exactly the allowance. */
  readonly falsePass: number | null
  readonly falsePassAtAllowance: number | null
  /** Fails among tight holds. */
  readonly falseFail: number | null
  readonly decidedTight: number | null
  readonly decidedDouble: number | null
  readonly medianErrorAtAllowance: number | null
  /** Median half-width of the interval of the drop at the allowance, over the allowance. */
  readonly medianHalfWidth: number | null
  readonly void: number | null
  readonly meanAnalysisMs: number | null
  readonly raw: NaiveScore
  readonly regression: NaiveScore
}

interface NaiveScore {
  readonly coverage: number | null
  readonly falsePass: number | null
  readonly falseFail: number | null
  readonly medianErrorAtAllowance: number | null
}

function share<T>(of: readonly T[], holds: (trial: T) => boolean): number | null {
  return of.length === 0 ? null : of.filter(holds).length / of.length
}

function median(values: readonly number[]): number | null {
  if (values.length === 0) return null
  const sorted = values.toSorted((a, b) => a - b)
  const middle = sorted.length >> 1
  return sorted.length % 2 === 1 ? sorted[middle] : (sorted[middle - 1] + sorted[middle]) / 2
}

const decided = (trial: Trial) => trial.verdict === 'pass' || trial.verdict === 'fail'
const covers = (interval: { low: number; high: number } | null | undefined, truth: number) =>
  !!interval && interval.low <= truth && truth <= interval.high

function naiveScore(trials: readonly Trial[], of: (trial: Trial) => NaiveAnswer): NaiveScore {
  const withInterval = trials.filter((trial) => of(trial).interval !== null)
  return {
    coverage: share(withInterval, (trial) => {
      const [low, high] = of(trial).interval ?? [0, 0]
      return low <= trial.truthDropPa && trial.truthDropPa <= high
    }),
    falsePass: share(leaking(trials), (trial) => of(trial).verdict === 'pass'),
    falseFail: share(tight(trials), (trial) => of(trial).verdict === 'fail'),
    medianErrorAtAllowance: median(
      atAllowance(trials).map((trial) => Math.abs(of(trial).dropPa / trial.truthDropPa - 1)),
    ),
  }
}

const leaking = (trials: readonly Trial[]) => trials.filter((trial) => trial.leakOverAllowance >= 1)
const tight = (trials: readonly Trial[]) => trials.filter((trial) => trial.leakOverAllowance === 0)
const atAllowance = (trials: readonly Trial[]) => trials.filter((trial) => trial.leakOverAllowance === 1)
const double = (trials: readonly Trial[]) => trials.filter((trial) => trial.leakOverAllowance === 2)

/** A hold without a figure covers nothing: silence does not count as honesty. */
export function scoreOf(trials: readonly Trial[]): Score {
  const figures = atAllowance(trials).filter((trial) => trial.drop !== null)
  return {
    trials: trials.length,
    dropCoverage: share(trials, (trial) => covers(trial.drop, trial.truthDropPa)),
    molCoverage: share(trials, (trial) => covers(trial.mol, trial.truthMolPerS)),
    falsePass: share(leaking(trials), (trial) => trial.verdict === 'pass'),
    falsePassAtAllowance: share(atAllowance(trials), (trial) => trial.verdict === 'pass'),
    falseFail: share(tight(trials), (trial) => trial.verdict === 'fail'),
    decidedTight: share(tight(trials), decided),
    decidedDouble: share(double(trials), decided),
    medianErrorAtAllowance: median(
      figures.map((trial) => Math.abs((trial.drop?.value ?? 0) / trial.truthDropPa - 1)),
    ),
    medianHalfWidth: median(
      figures.map((trial) => ((trial.drop?.high ?? 0) - (trial.drop?.low ?? 0)) / 2 / trial.truthDropPa),
    ),
    void: share(trials, (trial) => trial.verdict === 'void'),
    meanAnalysisMs: trials.length
      ? trials.reduce((sum, trial) => sum + trial.analysisMs, 0) / trials.length
      : null,
    raw: naiveScore(trials, (trial) => trial.raw),
    regression: naiveScore(trials, (trial) => trial.regression),
  }
}
