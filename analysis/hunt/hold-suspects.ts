import type { Evidence } from '#analysis/model/evidence.ts'
import type { HoldResult } from '#analysis/model/hold-result.ts'
import type { Recording } from '#analysis/model/samples.ts'
import type { System } from '#analysis/model/system.ts'
import { holdCoverage } from '#analysis/model/system-graph.ts'
import { huntPosterior } from './hunt.ts'

/**
 * `fittings` of one hold's result: every fitting it covered with the probability that it leaks, from this hold and the marks
 * of its recording alone, likeliest first; small ones after a pass. Empty for a void hold, which tells nothing about fittings.
 */
export function holdSuspects(
  system: System,
  result: HoldResult,
  recording: Recording,
): HoldResult['fittings'] {
  if (result.verdict === 'void') return []
  const evidence: Evidence[] = [
    { kind: 'hold', record: null, result, system, corrects: null, retests: null },
    ...recording.marks.map((mark): Evidence => ({ kind: 'mark', record: null, mark })),
  ]
  const spec = system.holds.find((h) => h.id === result.hold)
  if (!spec) return []
  const reached = new Set(holdCoverage(system, spec).reached)
  const near: System = { ...system, fittings: system.fittings.filter((f) => reached.has(f.id)) }
  const { built, posterior } = huntPosterior(near, evidence)
  if (built.problem.rows.length === 0 && built.problem.verdictRows.length === 0) return []
  const { paths } = posterior
  return near.fittings
    .map(({ id }, p) => ({ id, leaking: Number(paths[p].leaking.toPrecision(3)) }))
    .sort((a, b) => b.leaking - a.leaking)
}
