import { readSystemFile, type SystemFileReading } from '#ingest/system-file/read-system-file.ts'
import type { SealedRecord } from './record.ts'

/** Cache size: the records of a workshop have few different system files, and reading one takes as long as judging a hold. */
const keptAtMost = 50
const kept = new Map<string, SystemFileReading>()

/** The system file that a record was sealed with; a valid text is read once. */
export function systemOfRecord({ id, system }: Pick<SealedRecord, 'id' | 'system'>): SystemFileReading {
  const known = kept.get(system.text)
  if (known !== undefined) return known
  const read = readSystemFile(system.text, `system file of ${id}`)
  if (kept.size >= keptAtMost) kept.clear()
  if (read.errors.length === 0) kept.set(system.text, read)
  return read
}
