import { existsSync } from 'node:fs'
import type { Evidence } from '#analysis/model/evidence.ts'
import { type Archive, type ArchiveOptions, openArchive } from '#dashboard/archive/archive.ts'
import { ArchiveError } from '#dashboard/archive/archive-error.ts'
import { ArchiveEvidence } from '#dashboard/archive/archive-evidence.ts'
import type { KnownRecord } from '#dashboard/archive/record.ts'
import { programVersion } from './command.ts'
import { dataFolder, type OpenedSystem, openSystem, type SystemOptions } from './options.ts'
import { printable } from './terminal.ts'

/** Repairs made when the archive was opened are progress, not a result: standard error. */
export function tellNotices(notices: readonly string[]): void {
  for (const line of notices) process.stderr.write(`archive: ${printable(line)}\n`)
}

/** The records of an archive on one system. */
export interface ArchiveKnows extends OpenedSystem {
  readonly known: readonly KnownRecord[]
  readonly evidence: readonly Evidence[]
}

/**
 * Reads an archive, and the system from its present file; without a file, from the newest record.
 *
 * @param folderless treats a missing folder as an archive without records
 */
export function readArchive(
  options: SystemOptions & { readonly data?: string },
  folderless = false,
): ArchiveKnows {
  const folder = dataFolder(options.data)
  const known = folderless && !existsSync(folder) ? [] : knownIn(folder)
  const newest = known.at(-1)?.record
  const opened = openSystem(options, newest && { file: newest.id, text: newest.system.text })
  return { ...opened, known, evidence: new ArchiveEvidence().of(known) }
}

/** All records of an archive. */
export function knownIn(folder: string | undefined): readonly KnownRecord[] {
  return withArchive(folder, { readOnly: true }, (archive) => archive.known())
}

/** Opens the archive for one task and always closes it. */
export function withArchive<T>(
  data: string | undefined,
  options: Omit<ArchiveOptions, 'programVersion'>,
  work: (archive: Archive) => T,
): T {
  const archive = openArchive(dataFolder(data), { programVersion, ...options })
  let isGoingOn = false
  try {
    tellNotices(archive.notices)
    const done = work(archive)
    if (!(done instanceof Promise)) return done
    isGoingOn = true
    return done.finally(() => archive.close()) as T
  } finally {
    if (!isGoingOn) archive.close()
  }
}

/** Reads from the archive if it exists; without one there is nothing to refer to. */
export function besideArchive<T>(folder: string | undefined, work: (archive: Archive) => T, none: T): T {
  try {
    return withArchive(folder, { readOnly: true }, work)
  } catch (cause) {
    if (cause instanceof ArchiveError && cause.code === 'no-archive') return none
    throw cause
  }
}
