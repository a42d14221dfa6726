import type { Archive } from '#dashboard/archive/archive.ts'
import type { RecordDraft, RecordKind, SealedRecord } from '#dashboard/archive/record.ts'

/** Seals what the wet work found as a record of its own kind. */
export function sealWetWork(
  archive: Archive,
  kind: RecordKind,
  result: object,
  system: { readonly text: string; readonly name: string },
  by: Partial<Pick<RecordDraft, 'operator' | 'witness' | 'photos' | 'note' | 'recordingPath'>>,
): SealedRecord {
  return archive.seal({
    kind,
    recordingPath: by.recordingPath ?? null,
    systemText: system.text,
    systemName: system.name,
    result: result as Readonly<Record<string, unknown>>,
    operator: by.operator ?? null,
    witness: by.witness ?? null,
    photos: by.photos ?? [],
    note: by.note ?? null,
    corrects: null,
    retests: null,
  })
}
