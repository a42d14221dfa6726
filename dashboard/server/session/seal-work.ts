import type { NewMark } from '#dashboard/api.ts'
import type { Archive } from '#dashboard/archive/archive.ts'
import type { SystemFileOnDisk } from './system-file-on-disk.ts'

/**
 * Seals work on a fitting, a look at it, or a plug put in or taken out, that was marked between holds: the ledger must
 * know of it even when no hold follows. Marks during a hold are sealed with its recording; other marks need no record.
 */
export function sealWork(
  archive: Archive,
  mark: NewMark,
  timeNs: bigint,
  systemFile: SystemFileOnDisk,
): void {
  const { kind } = mark
  if ((kind !== 'work' && kind !== 'look' && kind !== 'plug') || mark.id === undefined) return
  const section = systemFile.system?.fittings.find(({ id }) => id === mark.id)?.section
  archive.seal({
    kind,
    recordingPath: null,
    systemText: systemFile.text,
    systemName: systemFile.system?.name ?? 'unnamed',
    result: {
      stillhold: 1,
      id: mark.id,
      ...(section ? { section } : {}),
      time_ns: String(timeNs),
      ...mark.fields,
    },
    operator: typeof mark.fields.by === 'string' ? mark.fields.by : null,
    witness: null,
    photos: [],
    note: null,
    corrects: null,
    retests: null,
  })
}
