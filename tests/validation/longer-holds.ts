import type { HoldResult } from '#analysis/model/hold-result.ts'
import type { System } from '#analysis/model/system.ts'
import { analyzeRecording } from '#analysis/verdict/analyze-recording.ts'
import type { Scenario } from '#tests/simulator/scenario.ts'
import { simulateHold } from '#tests/simulator/simulate-hold.ts'
import { type SectionKind, type Situation, situations } from '#tests/simulator/situations.ts'
import { liquidSituations, playLiquid } from './liquid-situations.ts'

/** An undecided hold, and the same hold gone on. */
export interface LongerHold {
  readonly situation: string
  readonly seed: number
  readonly leak: number
  /** What the analysis said it needs, [s]. */
  readonly secondsMore: number | null
  /** Whether it was decided when held that much longer; null where no figure was given. */
  readonly decided: boolean | null
  /** Whether it was decided when held for as long as anybody would. */
  readonly decidable: boolean
}

/** Leaks that time can tell from the allowance. */
const tellableLeaks: readonly number[] = [0, 0.5, 1.25, 2]
const mostTimes = 8
const longestS = 6 * 3600

/** The same hold, instruments, weather and leak; it only goes on for another time than the system file states. */
export function heldFor(scenario: Scenario, seed: number, holdS: number) {
  const { procedure } = scenario
  // a drop allowed over the stated time is the same rate over another
  const allow =
    procedure.allow.kind === 'drop'
      ? { ...procedure.allow, dropPsi: (procedure.allow.dropPsi * holdS) / procedure.holdS }
      : procedure.allow
  return simulateHold({ ...scenario, procedure: { ...procedure, holdS, allow } }, seed).recording
}

function judged(recording: Parameters<typeof analyzeRecording>[0], system: System): HoldResult {
  return analyzeRecording(recording, system)[0].result
}

function goneOn(
  about: Pick<LongerHold, 'situation' | 'seed' | 'leak'>,
  system: System,
  recordingOf: (holdS: number) => Parameters<typeof analyzeRecording>[0],
): LongerHold[] {
  const { holdS } = system.holds[0]
  const { verdict, needs_seconds_more: secondsMore } = judged(recordingOf(holdS), system)
  if (verdict !== 'undecided') return []
  const decidedAfter = (seconds: number): boolean => {
    const later = judged(recordingOf(seconds), system).verdict
    return later === 'pass' || later === 'fail'
  }
  const decided = secondsMore === null ? null : decidedAfter(holdS + secondsMore)
  const decidable = decided === true || decidedAfter(Math.min(longestS, mostTimes * holdS))
  return [{ ...about, secondsMore, decided, decidable }]
}

/** The undecided among `holds` seeded gas holds for each leak, and what became of them. */
export function longerGasHolds(
  situation: Situation,
  kinds: readonly SectionKind[],
  holds: number,
  firstSeed: number,
  leaks: readonly number[] = tellableLeaks,
): LongerHold[] {
  return Array.from({ length: holds }, (_, i) => firstSeed + i).flatMap((seed) =>
    kinds.flatMap((kind) =>
      leaks.flatMap((leak) => {
        const scenario = situation.scenario(seed, leak, kind)
        const { system } = simulateHold(scenario, seed)
        const about = { situation: `${situation.name} ${kind}`, seed, leak }
        return goneOn(about, system, (holdS) => heldFor(scenario, seed, holdS))
      }),
    ),
  )
}

/** The same of full lines. */
export function longerLiquidHolds(
  situation: string,
  holds: number,
  firstSeed: number,
  leaks: readonly number[] = tellableLeaks,
): LongerHold[] {
  return Array.from({ length: holds }, (_, i) => firstSeed + i).flatMap((seed) =>
    leaks.flatMap((leak) => {
      const { system } = playLiquid(situation, seed, leak)
      const { holdS: statedS } = system.holds[0]
      const about = { situation: `liquid, ${situation}`, seed, leak }
      return goneOn(about, system, (holdS) => playLiquid(situation, seed, leak, holdS - statedS).recording)
    }),
  )
}

/** Names of every situation of both simulators. */
export const everySituation: readonly string[] = [
  ...situations.map(({ name }) => name),
  ...Object.keys(liquidSituations).map((name) => `liquid, ${name}`),
]
