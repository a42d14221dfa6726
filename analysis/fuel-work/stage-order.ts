import type { Verdict } from '#analysis/model/hold-result.ts'
import { type WetStageName, wetStage, wetStages } from './wet-stages.ts'
import type { WeighedReason } from './worst-verdict.ts'

/** A wet stage that was sealed before. */
export interface EarlierStage {
  readonly record: string
  readonly stage: WetStageName
  readonly sections: readonly string[]
  readonly verdict: Verdict
  /** Its last look, epoch nanoseconds. */
  readonly timeNs: string
}

/** The last of each earlier stage on any of the sections, up to when this one began. */
export function stagesBefore(
  stage: WetStageName,
  sections: readonly string[],
  beganNs: string,
  sealed: readonly EarlierStage[],
): EarlierStage[] {
  return wetStages.slice(0, wetStages.indexOf(wetStage(stage)!)).flatMap(({ name }) => {
    const found = sealed.filter(
      (one) =>
        one.stage === name &&
        BigInt(one.timeNs) <= BigInt(beganNs) &&
        one.sections.some((id) => sections.includes(id)),
    )
    if (found.length === 0) return []
    return [found.reduce((last, one) => (BigInt(one.timeNs) >= BigInt(last.timeNs) ? one : last))]
  })
}

/**
 * What the order of the stages says of one of them: an earlier stage that did not pass keeps it open, one that was not
 * sealed is named.
 */
export function orderReasons(stage: WetStageName, before: readonly EarlierStage[]): WeighedReason[] {
  const earlier = wetStages.slice(0, wetStages.indexOf(wetStage(stage)!))
  const open = before.filter(({ verdict }) => verdict !== 'pass')
  const skipped = earlier.filter(({ name }) => !before.some((one) => one.stage === name))
  const reasons: WeighedReason[] = open.map(({ record, stage: name, verdict }) => ({
    weight: 'undecided',
    code: 'earlier-stage-open',
    message: `The stage ${name} before it did not pass (${record}: ${verdict}): put it right and do it again first.`,
  }))
  if (skipped.length > 0)
    reasons.push({
      weight: null,
      code: 'stage-skipped',
      message: `Not in the archive before this stage: ${skipped.map(({ name }) => name).join(', ')}. More fuel than has been tried stands behind joints that nobody has seen wet.`,
    })
  return reasons
}
