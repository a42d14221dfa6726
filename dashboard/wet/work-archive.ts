import { stillCuring, type WorkResult } from '#analysis/fuel-work/judge-torque.ts'
import type { WetResult } from '#analysis/fuel-work/judge-wet-stage.ts'
import type { JudgedWork, WorkKind } from '#analysis/fuel-work/judge-work.ts'
import { SheetError } from '#analysis/fuel-work/sheet-entries.ts'
import type { EarlierStage } from '#analysis/fuel-work/wet-sheet.ts'
import type { Verdict } from '#analysis/model/hold-result.ts'
import type { Archive } from '#dashboard/archive/archive.ts'
import type { RecordDraft, SealedRecord } from '#dashboard/archive/record.ts'
import { recordVerdict } from '#dashboard/archive/record-words.ts'

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

/** Why a curing sealant forbids a hold of the sections now, in one sentence; null when nothing cures. */
export function curingBars(
  archive: Pick<Archive, 'evidence'>,
  sections: readonly string[],
  nowNs: bigint,
): string | null {
  const records = archive.evidence()
  // Withdrawn work was never done.
  const takenBack = new Set(records.map(({ corrects }) => corrects))
  const work = records.filter(({ kind, id }) => kind === 'work' && !takenBack.has(id))
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

/** A recording named by the sheet: its path and its bytes. */
export interface KeptRecording {
  readonly path: string
  readonly name: string
  readonly bytes: Uint8Array
}

/**
 * Seals a result of the wet work as a record of its kind, together with the sheet and every recording behind it.
 * The first recording is the record's own; further ones are stored beside it as files, like photos.
 *
 * @throws SheetError when two recordings have the same name: the record could not distinguish them
 */
export function sealWetWork(
  archive: Archive,
  kind: WorkKind,
  { result, sheet }: JudgedWork,
  system: { readonly text: string; readonly name: string },
  by: Partial<Pick<RecordDraft, 'operator' | 'witness' | 'photos' | 'note'>> & {
    readonly recordings?: readonly KeptRecording[]
  },
): SealedRecord {
  const [first, ...further] = by.recordings ?? []
  const names = (by.recordings ?? []).map(({ name }) => name)
  const twice = names.find((name, i) => names.indexOf(name) !== i)
  if (twice !== undefined)
    throw new SheetError(`two recordings are named ${twice}: copy one under another name to seal both`)
  return archive.seal({
    kind,
    recordingPath: first?.path ?? null,
    systemText: system.text,
    systemName: system.name,
    result: { ...result, sheet } as Readonly<Record<string, unknown>>,
    operator: by.operator ?? null,
    witness: by.witness,
    photos: [...further.map(({ name, bytes }) => ({ name, bytes })), ...(by.photos ?? [])],
    note: by.note,
  })
}
