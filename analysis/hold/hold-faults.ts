import type { Reason } from '#analysis/model/hold-result.ts'
import type { Recording } from '#analysis/model/samples.ts'
import type { System } from '#analysis/model/system.ts'
import type { HoldStages } from './hold-stages.ts'

/** What makes a hold prove nothing, and what a reader should know beside the verdict. */
export interface HoldFaults {
  readonly voids: readonly Reason[]
  readonly cautions: readonly Reason[]
}

/** Looks for everything that would make a verdict worthless. */
export function holdFaults(
  _recording: Recording,
  _system: System,
  _stages: HoldStages,
  _live: boolean,
): HoldFaults {
  return { voids: [], cautions: [] }
}
