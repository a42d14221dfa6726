import { statedAllowance } from '#analysis/fit/stated-allowance.ts'
import type { HoldAnalysis, Reason } from '#analysis/model/hold-result.ts'
import type { HoldSpec, System } from '#analysis/model/system.ts'

/** The allowance of a hold that nobody described: no number, which JSON writes as null; no leak is below it. */
const notStated = { drop_Pa: Number.NaN }

/** The answer about a hold that is not in a recording: void, and nothing computed. */
export function voidWithoutHold(recording: string, system: System, spec: HoldSpec): HoldAnalysis {
  return voidFor(recording, system, spec, 'pressure', {
    code: 'no-hold-found',
    message: `No hold ${spec.id} is in this recording: no stage marks of it, and no pressure that stood near its test pressure.`,
  })
}

/** The answer about marks of a hold that the system file does not have. */
export function voidUnknownHold(recording: string, system: System, spec: HoldSpec): HoldAnalysis {
  const known = system.holds.map(({ id }) => id).join(', ') || 'none'
  return voidFor(recording, system, spec, 'marks', {
    code: 'hold-unknown',
    message: `The stage marks name the hold ${spec.id}, which the system file does not have (it has: ${known}), so what it was to keep to is not known: describe it there, under this id.`,
  })
}

function voidFor(
  recording: string,
  system: System,
  spec: HoldSpec,
  source: 'marks' | 'pressure',
  reason: Reason,
): HoldAnalysis {
  return {
    result: {
      stillhold: 1,
      recording,
      hold: spec.id,
      sections: spec.sections,
      verdict: 'void',
      reasons: [reason],
      stages: { source, pump_up_ns: null, settle_ns: null, hold_ns: null, vent_ns: null },
      seconds: 0,
      leak: null,
      allowance: spec.sections.length > 0 ? statedAllowance(system, spec) : notStated,
      raw_drop_Pa: null,
      needs_seconds_more: null,
      fittings: [],
      events: [],
    },
    curves: [],
    meaning: [],
  }
}
