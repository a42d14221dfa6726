import type {
  HoldAnalysis,
  HoldCurves,
  HoldResult,
  Reason,
  SectionLeak,
  Verdict,
} from '#analysis/model/hold-result.ts'
import type { Recording } from '#analysis/model/samples.ts'
import type { System } from '#analysis/model/system.ts'
import { holdFaults } from './hold-faults.ts'
import { type HoldStages, holdStages } from './hold-stages.ts'
import { overallVerdict } from './hold-verdict.ts'
import { type SectionFinding, sectionFindings } from './section-findings.ts'

/** How to look at a recording. */
export interface AnalyzeOptions {
  /** Only the holds of this id. */
  readonly hold?: string
  /** The hold is still running: no vent is expected yet, and looking again and again costs width. */
  readonly live?: boolean
}

/**
 * Analyzes every hold found in a recording.
 *
 * Pure and deterministic: the same recording and system give the same bytes.
 *
 * @returns one analysis a hold, in the order of time; empty when the recording holds none
 */
export function analyzeRecording(
  recording: Recording,
  system: System,
  options: AnalyzeOptions = {},
): HoldAnalysis[] {
  return holdStages(recording, system, options.hold ?? null).map((stages) =>
    analyzeHold(recording, system, stages, options.live ?? false),
  )
}

function analyzeHold(recording: Recording, system: System, stages: HoldStages, live: boolean): HoldAnalysis {
  const { spec } = stages
  const faults = holdFaults(recording, system, stages, live)
  const findings = stages.holdS === null ? [] : sectionFindings(recording, system, stages, live)
  const voids = [...faults.voids, ...findings.flatMap((f) => f.voids)]
  const verdict = overallVerdict(
    findings.map((f) => f.verdict),
    voids,
  )
  const reasons: Reason[] = [...voids, ...findings.flatMap((f) => f.reasons), ...faults.cautions]
  const holdS = stages.holdS
  const endS = stages.ventS ?? stages.endS
  const result: HoldResult = {
    stillhold: 1,
    recording: recording.name,
    hold: spec.id,
    sections: spec.sections,
    verdict,
    reasons,
    stages: {
      source: stages.source,
      pump_up_ns: timeNs(recording, stages.pumpUpS),
      settle_ns: timeNs(recording, stages.settleS),
      hold_ns: timeNs(recording, holdS),
      vent_ns: timeNs(recording, stages.ventS),
    },
    seconds: holdS === null ? 0 : round(endS - holdS, 3),
    leak: leakOf(findings),
    allowance: findings[0]?.allowance ?? {
      drop_Pa: spec.allow.kind === 'drop' ? spec.allow.dropPa : Number.NaN,
    },
    raw_drop_Pa: findings[0]?.rawDropPa ?? null,
    needs_seconds_more: verdict === 'undecided' ? secondsMore(findings) : null,
    fittings: [],
    events: [],
  }
  return { result, curves: findings.flatMap((f) => f.curves), meaning: [] }
}

function leakOf(findings: readonly SectionFinding[]): SectionLeak | SectionLeak[] | null {
  const leaks = findings.flatMap((f) => (f.leak ? [f.leak] : []))
  return leaks.length === 0 ? null : leaks.length === 1 ? leaks[0] : leaks
}

function secondsMore(findings: readonly SectionFinding[]): number | null {
  let most = 0
  for (const f of findings) {
    if (f.verdict !== 'undecided') continue
    if (f.secondsMore === null) return null
    most = Math.max(most, f.secondsMore)
  }
  return most
}

/** Epoch nanoseconds of a moment of the recording, as text; exact to the nanosecond for a mark's own time. */
function timeNs(recording: Recording, atS: number | null): string | null {
  if (atS === null) return null
  const mark = recording.marks.find((m) => m.timeS === atS)
  return mark ? mark.timeNs : String(BigInt(recording.startNs) + BigInt(Math.round(atS * 1e6)) * 1000n)
}

function round(value: number, digits: number): number {
  return Number(value.toFixed(digits))
}

export type { HoldCurves, Verdict }
