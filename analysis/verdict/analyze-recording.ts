import { holdFaults } from '#analysis/faults/hold-faults.ts'
import { statedAllowance } from '#analysis/fit/hold-leak.ts'
import { holdSuspects } from '#analysis/hunt/hunt.ts'
import { type RigStanding, rigCaution, rigStanding } from '#analysis/hunt/rig.ts'
import { type ValvePassing, valvePassing } from '#analysis/hunt/valve-passing.ts'
import type { Evidence } from '#analysis/model/evidence.ts'
import {
  type HoldAnalysis,
  type HoldResult,
  type Reason,
  verdictsWorstFirst,
  type WordedReason,
} from '#analysis/model/hold-result.ts'
import type { ChannelOrigin } from '#analysis/model/origin.ts'
import { channelOrigins, type Recording } from '#analysis/model/samples.ts'
import { type HoldSpec, isNamed, type System } from '#analysis/model/system.ts'
import { isOneWay } from '#analysis/model/system-graph.ts'
import { checksMade } from '#analysis/proof/bench-proof.ts'
import { unitsOfSystem } from '#analysis/reasons/figures.ts'
import { reason, worded } from '#analysis/reasons/phrase.ts'
import { pressurisedBodies } from '#analysis/signal/pressurised-bodies.ts'
import { holdStages } from '#analysis/stages/hold-stages.ts'
import type { HoldStages } from '#analysis/stages/stages-from-pressure.ts'
import { overallVerdict } from './hold-verdict.ts'
import { neighborGains } from './neighbor-gauges.ts'
import { type SectionFinding, sectionFinding } from './section-findings.ts'
import { voidUnknownHold } from './void-without-hold.ts'

/** Options of an analysis. */
export interface AnalyzeOptions {
  /** Analyze only the holds of this id. */
  readonly hold?: string
  /** The hold is still running: no vent is expected yet, and repeated looks widen the interval. */
  readonly live?: boolean
  /** A simulated hold of a plan: as few posterior points as for a look, but the width of a verdict. */
  readonly rehearsal?: boolean
  /** False leaves out which fittings may leak, as for a result that is only compared. */
  readonly suspects?: boolean
  /** Compute the uncertainty budget, which takes a few more passes. */
  readonly budget?: boolean
}

/**
 * Analyzes every hold found in a recording.
 *
 * Pure and deterministic: the same recording and system give the same bytes.
 *
 * @returns one analysis per hold, in the order of time; empty when the recording contains none
 */
export function analyzeRecording(
  recording: Recording,
  system: System,
  options: AnalyzeOptions = {},
): HoldAnalysis[] {
  const results: HoldResult[] = []
  return holdStages(recording, system, options.hold ?? null).map((stages) => {
    const analysis = analyzeHold(recording, system, stages, options, results)
    results.push(analysis.result)
    return analysis
  })
}

const verdictCodes: ReadonlySet<string> = new Set([
  'leak-below-allowance',
  'leak-above-allowance',
  'interval-spans-allowance',
  'longer-will-not-help',
])

function analyzeHold(
  recording: Recording,
  system: System,
  stages: HoldStages,
  { live = false, rehearsal = false, suspects = !live && !rehearsal, budget = false }: AnalyzeOptions,
  before: readonly HoldResult[],
): HoldAnalysis {
  const { spec, holdS } = stages
  if (!system.holds.some(({ id }) => id === spec.id)) return voidUnknownHold(recording.name, system, spec)
  const { measured, unseen } = pressurisedBodies(recording, system, spec)
  const faults = holdFaults(recording, system, stages, unseen)
  const rig = rigOf(system, stages, recording, before)
  const findings =
    holdS === null
      ? []
      : measured.map((section) =>
          sectionFinding(recording, system, stages, section, rig, { live, rehearsal }),
        )
  const leaks = findings.flatMap(({ leak }) => (leak === null ? [] : [leak]))
  const neighbors = neighborGains(recording, system, stages)
  const watched = [...leaks, ...neighbors]
  const passing = valvePassing(system, spec, watched).filter((v) => v.passing >= 0.1)
  const verdict = overallVerdict(
    findings.map((f) => f.verdict),
    faults.voids,
  )
  // A void hold has no verdicts of single sections.
  const said = ({ code }: Reason): boolean => faults.voids.length === 0 || !verdictCodes.has(code)
  const reasons: Reason[] = [
    ...faults.voids,
    ...[...findings]
      .sort(worstFirst)
      .flatMap((f) => f.reasons)
      .filter(said),
    ...passing.map(passingReason),
    ...rigReasons(rig),
    ...faults.cautions,
  ]
  const closedS = stages.ventS ?? stages.endS
  // A check ends the judged part of the hold.
  const heldUntilS =
    checksMade(recording, system, spec.sections, holdS ?? closedS, closedS)[0]?.openS ?? closedS
  const origins = channelOrigins(recording.marks).filter(({ channel }) => isOfHold(system, spec, channel))
  const result: HoldResult = {
    stillhold: 1,
    recording: recording.name,
    hold: spec.id,
    sections: spec.sections,
    verdict,
    reasons: firstOfEach(worded(reasons, unitsOfSystem(system, spec.sections))),
    stages: {
      source: stages.source,
      pump_up_ns: timeNs(recording, stages.pumpUpS),
      settle_ns: timeNs(recording, stages.settleS),
      hold_ns: timeNs(recording, holdS),
      vent_ns: timeNs(recording, stages.ventS),
    },
    seconds: holdS === null ? 0 : round(Math.max(0, heldUntilS - holdS), 3),
    leak: leaks.length === 0 ? null : leaks.length === 1 ? leaks[0] : leaks,
    ...(neighbors.length > 0 ? { neighbors } : {}),
    allowance: findings.find((f) => f.allowance !== null)?.allowance ?? statedAllowance(system, spec),
    raw_drop_Pa: findings.find((f) => f.rawDropPa !== null)?.rawDropPa ?? null,
    needs_seconds_more: verdict === 'undecided' ? secondsMore(findings) : null,
    fittings: [],
    events: findings.flatMap((f) => f.events),
    proof: findings.find(({ proof }) => proof?.proven === false)?.proof ?? findings[0]?.proof ?? null,
    supply:
      findings.length > 0 && findings.every(({ supply }) => supply !== null) ? findings[0].supply : null,
    ...(budget ? { budget: budgetIn(findings) } : {}),
    ...originOf(origins),
  }
  return {
    origins,
    // A look at a running hold and a rehearsal skip the fittings to save time.
    result: suspects ? { ...result, fittings: holdSuspects(system, result, recording) } : result,
    curves: findings.flatMap((f) => f.curves),
    meaning: findings.flatMap((f) => (f.meaning === null ? [] : [f.meaning])),
  }
}

function passingReason({ valve, from, to, passing }: ValvePassing): Reason {
  const back = isOneWay(valve) && valve.between[0] === to
  return reason('valve-passing', { valve: valve.id, name: valve.name, from, to, back, probability: passing })
}

/** Channels of the hold's sections, and the barometer. */
function isOfHold(system: System, spec: HoldSpec, id: string): boolean {
  return system.channels.some(
    (channel) =>
      isNamed(channel, id) && (channel.section === null || spec.sections.includes(channel.section)),
  )
}

/** Origin of the data; empty if the recording does not state it. */
function originOf(origins: readonly ChannelOrigin[]): Pick<HoldResult, 'origin'> {
  if (origins.length === 0) return {}
  return { origin: Object.fromEntries(origins.map(({ channel, kind }) => [channel, kind])) }
}

/** Budget of the deciding section. */
function budgetIn(findings: readonly SectionFinding[]): HoldResult['budget'] {
  return [...findings].sort(worstFirst)[0]?.budget() ?? null
}

function worstFirst(a: SectionFinding, b: SectionFinding): number {
  return verdictsWorstFirst.indexOf(a.verdict) - verdictsWorstFirst.indexOf(b.verdict)
}

/** Removes reasons that repeat. */
function firstOfEach(reasons: readonly WordedReason[]): WordedReason[] {
  return reasons.filter(
    ({ code, message }, i) => reasons.findIndex((r) => r.code === code && r.message === message) === i,
  )
}

/** State of proof of this hold's rig from earlier holds of the recording. */
function rigOf(
  system: System,
  stages: HoldStages,
  recording: Recording,
  before: readonly HoldResult[],
): RigStanding | null {
  const { spec } = stages
  if (spec.rig === null || spec.sections.every((id) => id === spec.rig)) return null
  const evidence = before.map((result): Evidence => {
    return { kind: 'hold', record: null, result, system, corrects: null, retests: null }
  })
  const atNs = timeNs(recording, stages.pumpUpS ?? stages.settleS ?? stages.holdS ?? 0) as string
  return rigStanding(evidence, spec.rig, BigInt(atNs))
}

function rigReasons(rig: RigStanding | null): Reason[] {
  const caution = rig === null ? null : rigCaution(rig)
  return caution === null ? [] : [caution]
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

/** Epoch nanoseconds of a time in the recording, as text; exact for a mark's own time. */
function timeNs(recording: Recording, atS: number | null): string | null {
  if (atS === null) return null
  const mark = recording.marks.find((m) => m.timeS === atS)
  return mark ? mark.timeNs : String(BigInt(recording.startNs) + BigInt(Math.round(atS * 1e6)) * 1000n)
}

function round(value: number, digits: number): number {
  return Number(value.toFixed(digits))
}
