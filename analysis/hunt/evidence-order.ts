import type { Evidence, HoldEvidence } from '#analysis/model/evidence.ts'
import { type HoldResult, verdictsWorstFirst } from '#analysis/model/hold-result.ts'
import type { Mark } from '#analysis/model/samples.ts'
import type { HoldSpec, System } from '#analysis/model/system.ts'
import { type Coverage, holdCoverage, type SetupProblem } from '#analysis/model/system-graph.ts'

export interface TimedMark {
  readonly timeNs: bigint
  readonly mark: Mark
  readonly record: string | null
}

export interface TimedHold {
  /** Start of pump-up, or of the next known stage. */
  readonly startNs: bigint
  readonly endNs: bigint
  readonly evidence: HoldEvidence
  /** Hold in its own system file; null if that file does not have it. */
  readonly spec: HoldSpec | null
  /** Record, or recording and hold. */
  readonly where: string
}

/** Marks in the order of time, without duplicates from a recording and its record. */
export function marksInOrder(evidence: readonly Evidence[]): TimedMark[] {
  const seen = new Map<string, TimedMark>()
  for (const item of evidence) {
    if (item.kind !== 'mark') continue
    const { mark, record } = item
    const key = `${mark.timeNs} ${mark.kind} ${mark.id} ${mark.fields.finding ?? ''}`
    if (!seen.has(key) || record !== null) seen.set(key, { timeNs: BigInt(mark.timeNs), mark, record })
  }
  return [...seen.values()].sort((a, b) => compare(a.timeNs, b.timeNs))
}

/** Holds in the order of time without duplicates, corrected records and holds that never began. */
export function holdsInOrder(evidence: readonly Evidence[]): TimedHold[] {
  const corrected = new Set<string>()
  for (const item of evidence)
    if (item.kind === 'hold' && item.corrects !== null) corrected.add(item.corrects)
  const seen = new Map<string, TimedHold>()
  for (const item of evidence) {
    if (item.kind !== 'hold' || (item.record !== null && corrected.has(item.record))) continue
    const span = holdSpan(item.result)
    if (span === null) continue
    // The same readings under another file name are not a second hold.
    const key = `${item.result.hold} ${span.startNs}`
    const known = seen.get(key)?.evidence
    if (known !== undefined && !outranks(item, known)) continue
    const { record, result, system } = item
    const spec = system.holds.find((h) => h.id === result.hold) ?? null
    seen.set(key, { ...span, evidence: item, spec, where: record ?? `${result.recording}, ${result.hold}` })
  }
  // Of holds at the same time a fail counts as the later one, to be strict.
  const failed = (h: TimedHold): number => Number(h.evidence.result.verdict === 'fail')
  return [...seen.values()].sort((a, b) => compare(a.startNs, b.startNs) || failed(a) - failed(b))
}

/** Of two analyses of a hold the sealed one counts, of two sealed ones the worse: only a correction replaces it. */
function outranks(one: HoldEvidence, known: HoldEvidence): boolean {
  if ((one.record === null) !== (known.record === null)) return one.record !== null
  const rank = (e: HoldEvidence): number => verdictsWorstFirst.indexOf(e.result.verdict)
  return rank(one) === rank(known) ? (one.record ?? '') > (known.record ?? '') : rank(one) < rank(known)
}

/** Holds of one section at overlapping times: a clock was wrong, so their order is unknown. */
export function overlappingHolds(evidence: readonly Evidence[]): string[] {
  const holds = holdsInOrder(evidence)
  return holds.slice(1).flatMap((hold, i) => {
    const before = holds[i]
    const [now, then] = [hold.evidence.result, before.evidence.result]
    if (hold.startNs >= before.endNs || !now.sections.some((s) => then.sections.includes(s))) return []
    return [
      `${then.recording} and ${now.recording} hold ${now.sections.join(' + ')} at the same time by their clocks: their order is unknown, so nothing shows what they prove.`,
    ]
  })
}

/** Time from pump-up to vent; null for a result without times. */
function holdSpan(result: HoldResult): { startNs: bigint; endNs: bigint } | null {
  const { pump_up_ns, settle_ns, hold_ns, vent_ns } = result.stages
  const start = pump_up_ns ?? settle_ns ?? hold_ns
  if (start === null) return null
  const holdNs = BigInt(hold_ns ?? start)
  return {
    startNs: BigInt(start),
    endNs: vent_ns === null ? holdNs + BigInt(Math.round(result.seconds * 1e9)) : BigInt(vent_ns),
  }
}

function compare(a: bigint, b: bigint): number {
  return a < b ? -1 : a > b ? 1 : 0
}

/** Valve marks older than this before pump-up belong to another session, [ns]. */
const sessionNs = 12n * 3600n * 1_000_000_000n

/** Memoized: a fleet's holds repeat few set-ups. */
const coverages = new WeakMap<System, Map<string, Coverage>>()

function knownCoverage(system: System, spec: HoldSpec, shut: readonly string[]): Coverage {
  const known = coverages.get(system) ?? new Map<string, Coverage>()
  coverages.set(system, known)
  const key = [spec.id, ...shut].join()
  const coverage = known.get(key) ?? holdCoverage(system, spec, shut)
  known.set(key, coverage)
  return coverage
}

/** Actual coverage of a hold: the session's valve marks take precedence over the hold's shut list. */
export function coverageInFact(spec: HoldSpec, hold: TimedHold, marks: readonly TimedMark[]): Coverage {
  const { system } = hold.evidence
  const shut = new Set(spec.shut)
  const problems: SetupProblem[] = []
  for (const { timeNs, mark } of marks) {
    if (mark.kind !== 'valve' || mark.id === null || typeof mark.fields.open !== 'boolean') continue
    if (timeNs < hold.startNs - sessionNs || timeNs > hold.endNs) continue
    if (!system.valves.some((v) => v.id === mark.id)) continue
    const wasShut = shut.has(mark.id)
    if (mark.fields.open) shut.delete(mark.id)
    else shut.add(mark.id)
    const settled = BigInt(hold.evidence.result.stages.settle_ns ?? hold.startNs)
    if (timeNs > settled && wasShut === mark.fields.open)
      problems.push({
        code: 'valve-moved',
        message: `Valve ${mark.id} was ${mark.fields.open ? 'opened' : 'shut'} during hold ${spec.id}: hold again without moving the valves.`,
        isBlocking: true,
      })
  }
  const coverage = knownCoverage(system, spec, [...shut])
  if (problems.length === 0) return coverage
  return { ...coverage, covered: [], problems: [...problems, ...coverage.problems] }
}
