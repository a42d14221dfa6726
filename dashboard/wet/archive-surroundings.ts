import { stillCuring, type WorkResult } from '#analysis/fuel-work/judge-torque.ts'
import type { WetResult } from '#analysis/fuel-work/judge-wet-stage.ts'
import type { EarlierStage } from '#analysis/fuel-work/stage-order.ts'
import type { Verdict } from '#analysis/model/hold-result.ts'
import type { Archive } from '#dashboard/archive/archive.ts'
import { recordVerdict } from '#dashboard/archive/record-summary.ts'

/** What a sheet may refer to in an archive: its holds, and the wet stages sealed so far. */
export function archiveSurroundings(archive: Pick<Archive, 'evidence'>): {
  readonly holdVerdict: (record: string) => Verdict | null
  readonly sealedStages: () => EarlierStage[]
} {
  return {
    holdVerdict(id) {
      const found = archive.evidence().find((record) => record.id === id && record.kind === 'hold')
      return found ? recordVerdict(found) : null
    },
    sealedStages: () =>
      archive.evidence().flatMap((record) => {
        if (record.kind !== 'wet') return []
        const { stage, sections, verdict, time_ns } = record.result as unknown as WetResult
        return [{ record: record.id, stage, sections, verdict, timeNs: time_ns }]
      }),
  }
}

/** Why the sealant of a joint bars a hold of the sections now, in one sentence; null when nothing cures. */
export function curingBars(
  archive: Pick<Archive, 'evidence'>,
  sections: readonly string[],
  nowNs: bigint,
): string | null {
  const work = archive.evidence().filter(({ kind }) => kind === 'work')
  const curing = stillCuring(
    work.map(({ result }) => result as unknown as WorkResult),
    sections,
    nowNs,
  )
  if (curing === null) return null
  const left = Number((curing.untilNs - nowNs) / 60_000_000_000n) + 1
  const words = left >= 120 ? `${Math.ceil(left / 60)} h` : `${left} min`
  return `The sealant of ${curing.id} cures for another ${words}: no hold before.`
}
