import type { HoldSpec, System } from '#analysis/model/system.ts'
import { type Coverage, holdCoverage, type SetupProblem } from '#analysis/model/system-graph.ts'
import type { TimedHold, TimedMark } from './evidence-order.ts'

/** Valve marks older than this before pump-up belong to another session, [ns]. */
const sessionNs = 12n * 3600n * 1_000_000_000n

/** Coverage of a hold as it was made: the valve marks of the session count before the hold's own shut list. */
export function coverageInFact(
  system: System,
  spec: HoldSpec,
  hold: TimedHold,
  marks: readonly TimedMark[],
): Coverage {
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
        message: `Valve ${mark.id} was ${mark.fields.open ? 'opened' : 'shut'} during hold ${spec.id}: hold again with the valves left alone.`,
        isBlocking: true,
      })
  }
  const coverage = holdCoverage(system, spec, [...shut])
  if (problems.length === 0) return coverage
  return { ...coverage, covered: [], problems: [...problems, ...coverage.problems] }
}
