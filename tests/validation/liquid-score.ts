import type { Estimate, SectionLeak, Verdict } from '#analysis/model/hold-result.ts'
import { analyzeRecording } from '#analysis/verdict/analyze-recording.ts'
import { playLiquid } from './liquid-situations.ts'

/** The leaks that every situation is played with, in multiples of the allowance. */
const liquidLeaks: readonly number[] = [0, 0.5, 1, 1.25, 2, 5]

/** One simulated hold of a full line and what the analysis said of it. */
export interface LiquidTrial {
  readonly situation: string
  readonly seed: number
  readonly leak: number
  readonly verdict: Verdict
  readonly reasons: readonly string[]
  readonly about: string
  readonly truthMlPerMin: number
  readonly truthDropPa: number
  readonly mlPerMin: Estimate | null
  readonly dropPa: Estimate | null
}

/** Plays, analyzes and notes `holds` holds for each leak; every hold has its own seed. */
export function liquidTrials(
  situation: string,
  holds: number,
  firstSeed: number,
  leaks: readonly number[] = liquidLeaks,
): LiquidTrial[] {
  return Array.from({ length: holds * leaks.length }, (_, k): LiquidTrial => {
    const seed = firstSeed + k
    const leak = leaks[k % leaks.length]
    const hold = playLiquid(situation, seed, leak)
    const [{ result }] = analyzeRecording(hold.recording, hold.system)
    const found = (Array.isArray(result.leak) ? result.leak[0] : result.leak) as SectionLeak | null
    return {
      situation,
      seed,
      leak,
      verdict: result.verdict,
      reasons: result.reasons.map(({ code }) => code),
      about: `${hold.medium} in ${hold.wall}, stretch ${hold.stretchStated ? 'stated' : 'not stated'}`,
      truthMlPerMin: hold.leakM3PerS * 60e6,
      truthDropPa: hold.dropPa,
      mlPerMin: found?.mL_per_min ?? null,
      dropPa: found?.drop_Pa ?? null,
    }
  })
}

/** Shares between 0 and 1; null when no trial bears on them. Void holds count in `void` alone. */
export interface LiquidScore {
  readonly situation: string
  readonly holds: number
  readonly void: number | null
  readonly coversMl: number | null
  readonly coversDrop: number | null
  readonly falsePass: number | null
  readonly falsePassAtAllowance: number | null
  readonly falseFail: number | null
  readonly decidedTight: number | null
  readonly decidedDouble: number | null
  readonly decidedFivefold: number | null
  /** Median half-width at the allowance, over the truth. */
  readonly halfWidth: number | null
}

const covers = (interval: Estimate | null, truth: number) =>
  interval !== null && interval.low <= truth && truth <= interval.high

export function liquidScore(situation: string, all: readonly LiquidTrial[]): LiquidScore {
  const trials = all.filter(({ verdict }) => verdict !== 'void')
  const share = (of: readonly LiquidTrial[], holds: (trial: LiquidTrial) => boolean) =>
    of.length === 0 ? null : of.filter(holds).length / of.length
  const at = (leak: number) => trials.filter((trial) => trial.leak === leak)
  const decided = ({ verdict }: LiquidTrial) => verdict !== 'undecided'
  const widths = at(1)
    .flatMap(({ mlPerMin, truthMlPerMin }) =>
      mlPerMin === null ? [] : [(mlPerMin.high - mlPerMin.low) / 2 / truthMlPerMin],
    )
    .sort((a, b) => a - b)
  return {
    situation,
    holds: all.length,
    void: share(all, ({ verdict }) => verdict === 'void'),
    coversMl: share(trials, ({ mlPerMin, truthMlPerMin }) => covers(mlPerMin, truthMlPerMin)),
    coversDrop: share(trials, ({ dropPa, truthDropPa }) => covers(dropPa, truthDropPa)),
    falsePass: share(
      trials.filter(({ leak }) => leak >= 1),
      ({ verdict }) => verdict === 'pass',
    ),
    falsePassAtAllowance: share(at(1), ({ verdict }) => verdict === 'pass'),
    falseFail: share(
      trials.filter(({ leak }) => leak < 1),
      ({ verdict }) => verdict === 'fail',
    ),
    decidedTight: share(at(0), decided),
    decidedDouble: share(at(2), decided),
    decidedFivefold: share(at(5), decided),
    halfWidth: widths.length === 0 ? null : widths[widths.length >> 1],
  }
}
