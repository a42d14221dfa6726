import type { Recording } from '#analysis/model/samples.ts'
import type { System } from '#analysis/model/system.ts'
import type { HoldStages } from '#analysis/stages/stages-from-pressure.ts'
import { disturbedHold } from './disturbed-hold.ts'
import { allFaults, caution, type Faults, voidHold } from './fault.ts'
import { gaugeReadings } from './gauge-readings.ts'
import { gaugeResponse } from './gauge-response.ts'
import type { GaugeView } from './gauge-view.ts'
import { instrumentAdvice } from './instrument-advice.ts'
import { procedureFaults, sealantCuring } from './procedure.ts'
import { clockFaults, recordingDamage, samplingFaults } from './sampling.ts'
import { secondGauge } from './second-gauge.ts'
import { supplyConnected } from './supply-connected.ts'

/** Faults of the hold as a whole, independent of the gauge. */
export function holdFaults(
  recording: Recording,
  system: System,
  stages: HoldStages,
  unseen: readonly string[],
): Faults {
  const parts: Faults[] = []
  if (stages.holdS === null) parts.push(voidHold('hold-not-started', { hold: stages.spec.id }))
  for (const section of unseen) parts.push(voidHold('section-not-measured', { section }))
  if (stages.mayBe !== undefined)
    parts.push(caution('hold-guessed', { hold: stages.spec.id, others: stages.mayBe }))
  parts.push(clockFaults(recording, stages))
  parts.push(procedureFaults(recording, system, stages))
  return allFaults(parts)
}

/** Faults of one gauge and its section. */
export function gaugeFaults(view: GaugeView, live: boolean): Faults {
  const readings = gaugeReadings(view)
  const response = gaugeResponse(view, live)
  const sampling = samplingFaults(view, live)
  const broken = [readings, response, sampling].some(({ voids }) => voids.length > 0)
  return allFaults([
    readings,
    response,
    sampling,
    recordingDamage(view),
    sealantCuring(view),
    ...(broken ? [] : [supplyConnected(view), disturbedHold(view), secondGauge(view)]),
    instrumentAdvice(view),
  ])
}
