import type { HoldAnalysis } from '#analysis/model/hold-result.ts'
import type { HoldSpec, System } from '#analysis/model/system.ts'
import { statedAllowance } from './stated-allowance.ts'

/** The answer about a hold that is not in a recording: void, and nothing computed. */
export function voidWithoutHold(recording: string, system: System, spec: HoldSpec): HoldAnalysis {
  return {
    result: {
      stillhold: 1,
      recording,
      hold: spec.id,
      sections: spec.sections,
      verdict: 'void',
      reasons: [
        {
          code: 'no-hold-found',
          message: `No hold ${spec.id} is in this recording: no stage marks of it, and no pressure that stood near its test pressure.`,
        },
      ],
      stages: { source: 'pressure', pump_up_ns: null, settle_ns: null, hold_ns: null, vent_ns: null },
      seconds: 0,
      leak: null,
      allowance: statedAllowance(system, spec),
      raw_drop_Pa: null,
      needs_seconds_more: null,
      fittings: [],
      events: [],
    },
    curves: [],
    meaning: [],
  }
}
