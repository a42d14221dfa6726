import type { Archive } from '#dashboard/archive/archive.ts'
import type { RecordDraft, SealedRecord } from '#dashboard/archive/record.ts'
import type { JudgedWork, WorkKind } from './judge-work.ts'
import { SheetError } from './sheet-entries.ts'

/** A recording that the sheet names: where it lies, and its bytes. */
export interface KeptRecording {
  readonly path: string
  readonly name: string
  readonly bytes: Uint8Array
}

/**
 * Seals what the wet work found as a record of its own kind, together with the sheet and every recording that lead to it.
 * The first recording is the record's own; further ones are kept beside it as files, as photos are.
 *
 * @throws SheetError when two recordings have the same name: nobody could tell them apart in the record
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
    witness: by.witness ?? null,
    photos: [...further.map(({ name, bytes }) => ({ name, bytes })), ...(by.photos ?? [])],
    note: by.note ?? null,
    corrects: null,
    retests: null,
  })
}
