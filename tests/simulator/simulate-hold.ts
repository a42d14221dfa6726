import type { Recording } from '#analysis/model/samples.ts'
import type { System } from '#analysis/model/system.ts'
import { molPerPa } from '#ingest/simulator/vessel.ts'
import { benchSystem } from './bench-system.ts'
import { holdRecording, holdRecordingText } from './hold-recording.ts'
import { playHold, stageTimes } from './play-hold.ts'
import type { Scenario } from './scenario.ts'
import { psiPa } from './units.ts'

/** What nature did, for judging an analysis. */
interface Truth {
  /** The leak at the stated test pressure, [mol/s]. */
  readonly molPerS: number
  /** Drop that this leak alone would cause in the stated hold time: rate · time, [Pa]. */
  readonly dropPa: number
  readonly leakOverAllowance: number
  /** Fall of the true gauge pressure over the hold, all causes together, [Pa]. */
  readonly gaugeFallPa: number
}

export interface SimulatedHold {
  readonly scenario: Scenario
  readonly system: System
  readonly systemText: string
  readonly recording: Recording
  readonly truth: Truth
  /** The recording as a file after the contract. */
  recordingText(): string
}

/** One hold of a scenario, with its system file and the truth. The same scenario and seed give the same bytes. */
export function simulateHold(scenario: Scenario, seed: number): SimulatedHold {
  const { procedure, vessel } = scenario
  const { system, text: systemText } = benchSystem(scenario)
  const { columns, conductance, gasK, atmospherePa, gaugeFallPa } = playHold(scenario, seed)
  const testPa = atmospherePa + procedure.pressurePsi * psiPa
  const molPerS = conductance * (testPa ** 2 - atmospherePa ** 2)
  const heldMolPerPa = molPerPa(vessel.volumeM3, vessel.stretchPerPa, gasK, testPa, atmospherePa)
  const stages = procedure.stageMarks ? stageTimes(scenario) : null
  const recording = holdRecording(`${scenario.name}-${seed}.lp`, columns, stages)
  return {
    scenario,
    system,
    systemText,
    recording,
    truth: {
      molPerS,
      dropPa: (molPerS * procedure.holdS) / heldMolPerPa,
      leakOverAllowance: scenario.leakOverAllowance,
      gaugeFallPa,
    },
    recordingText: () => holdRecordingText(columns, recording.marks),
  }
}
