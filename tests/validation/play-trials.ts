import { analyzeRecording } from '#analysis/verdict/analyze-recording.ts'
import { simulateHold } from '#tests/simulator/simulate-hold.ts'
import type { SectionKind, Situation } from '#tests/simulator/situations.ts'
import { type Trial, trialOf } from './score.ts'

export interface TrialPlan {
  /** Seeded holds for each leak. */
  readonly holds: number
  readonly firstSeed: number
  readonly leaks: readonly number[]
  /** Taken in turn. */
  readonly kinds: readonly SectionKind[]
}

/** The first seed that a plan leaves free. */
export function seedAfter({ firstSeed, holds, leaks }: TrialPlan): number {
  return firstSeed + holds * leaks.length
}

/** Plays, analyzes and judges the holds of one situation; every hold has its own seed, so that trials are independent. */
export function playTrials(situation: Situation, { holds, firstSeed, leaks, kinds }: TrialPlan): Trial[] {
  const trials: Trial[] = []
  for (let i = 0; i < holds; i++) {
    for (const [j, leak] of leaks.entries()) {
      const seed = firstSeed + i * leaks.length + j
      const hold = simulateHold(situation.scenario(seed, leak, kinds[i % kinds.length]), seed)
      const beforeMs = performance.now()
      const analyses = analyzeRecording(hold.recording, hold.system)
      trials.push(trialOf(situation.name, seed, hold, analyses, performance.now() - beforeMs))
    }
  }
  return trials
}
