import type { Recording } from '#analysis/model/samples.ts'
import { bars, type Faults, noFaults } from './fault.ts'

/**
 * Lines of the recording cannot be read, at or before the vent. Missing samples show as a gap; a missing mark shows as
 * nothing: a valve that was opened, a joint that was worked on, a clock that was set. So the hold does not pass.
 */
export function recordingDamage({ damage }: Recording, untilS: number): Faults {
  if (damage === undefined || damage.afterS >= untilS) return noFaults
  return bars('recording-damaged', { line: damage.line, lines: damage.lines })
}
