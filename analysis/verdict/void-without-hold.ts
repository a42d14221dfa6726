import { statedAllowance } from '#analysis/fit/hold-leak.ts'
import type { HoldAnalysis, Reason } from '#analysis/model/hold-result.ts'
import type { HoldSpec, System } from '#analysis/model/system.ts'
import { unitsOfSystem } from '#analysis/reasons/figures.ts'
import { reason, worded } from '#analysis/reasons/phrase.ts'

/** Allowance of an undescribed hold: NaN, which JSON writes as null; no leak is below it. */
const notStated = { drop_Pa: Number.NaN }

/** Result for a hold that is not in the recording: void, nothing computed. */
export function voidWithoutHold(recording: string, system: System, spec: HoldSpec): HoldAnalysis {
  return voidFor(recording, system, spec, 'pressure', reason('no-hold-found', { hold: spec.id }))
}

/** Result for marks of a hold that is not in the system file. */
export function voidUnknownHold(recording: string, system: System, spec: HoldSpec): HoldAnalysis {
  const known = system.holds.map(({ id }) => id)
  return voidFor(recording, system, spec, 'marks', reason('hold-unknown', { hold: spec.id, known }))
}

function voidFor(
  recording: string,
  system: System,
  spec: HoldSpec,
  source: 'marks' | 'pressure',
  why: Reason,
): HoldAnalysis {
  return {
    result: {
      stillhold: 1,
      recording,
      hold: spec.id,
      sections: spec.sections,
      verdict: 'void',
      reasons: worded([why], unitsOfSystem(system, spec.sections)),
      stages: { source, pump_up_ns: null, settle_ns: null, hold_ns: null, vent_ns: null },
      seconds: 0,
      leak: null,
      allowance: spec.sections.length > 0 ? statedAllowance(system, spec) : notStated,
      raw_drop_Pa: null,
      needs_seconds_more: null,
      fittings: [],
      events: [],
      proof: null,
      supply: null,
    },
    curves: [],
    meaning: [],
  }
}
