import type { Verdict } from '#analysis/model/hold-result.ts'
import { stagesEarlierThan, type WetStageName, wetStage } from './wet-stages.ts'
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

/** The last of each earlier stage on each of the sections, up to when this one began. */
export function stagesBefore(
  stage: WetStageName,
  sections: readonly string[],
  beganNs: string,
  sealed: readonly EarlierStage[],
): EarlierStage[] {
  const found = stagesEarlierThan(stage).flatMap(({ name }) =>
    sections.flatMap((id) => {
      const of = sealed.filter(
        (one) => one.stage === name && one.sections.includes(id) && BigInt(one.timeNs) <= BigInt(beganNs),
      )
      return of.length === 0
        ? []
        : [of.reduce((last, one) => (BigInt(one.timeNs) >= BigInt(last.timeNs) ? one : last))]
    }),
  )
  return [...new Set(found)]
}

/**
 * An earlier stage that did not pass, or is missing for one of the tanks without a reason, keeps a stage open.
 *
 * @param tanks those of its sections that are tanks; all its sections where none is
 */
export function orderReasons(
  stage: WetStageName,
  tanks: readonly string[],
  before: readonly EarlierStage[],
  omitted: ReadonlyMap<string, string>,
): WeighedReason[] {
  const reasons: WeighedReason[] = before
    .filter(({ verdict }) => verdict !== 'pass')
    .map(({ record, stage: name, verdict }) => ({
      weight: 'undecided',
      code: 'earlier-stage-open',
      message: `The earlier stage “${wetStage(name)!.title}” did not pass (${record}: ${verdict}): correct it and repeat it first.`,
    }))
  for (const { name, title } of stagesEarlierThan(stage)) {
    const covered = new Set(before.filter((one) => one.stage === name).flatMap(({ sections }) => sections))
    const missing = tanks.filter((id) => !covered.has(id))
    if (missing.length === 0) continue
    const why = omitted.get(name)
    reasons.push(
      why === undefined
        ? {
            weight: 'undecided',
            code: 'stage-skipped',
            message: `“${title}” of ${missing.join(', ')} is not in the archive: do it first, or state why it is omitted.`,
          }
        : {
            weight: null,
            code: 'stage-omitted',
            message: `Omitted: “${title}” of ${missing.join(', ')} (${why}).`,
          },
    )
  }
  return reasons
}
