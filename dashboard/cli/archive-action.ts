import { existsSync } from 'node:fs'
import type { Evidence } from '#analysis/model/evidence.ts'
import { type Archive, openArchive } from '#dashboard/archive/archive.ts'
import { ArchiveError } from '#dashboard/archive/archive-error.ts'
import { ArchiveEvidence } from '#dashboard/archive/archive-evidence.ts'
import type { KeptRecord } from '#dashboard/archive/record.ts'
import { SheetError } from '#dashboard/wet/sheet-entries.ts'
import { UnreadableFile } from '#ingest/recording/unreadable-file.ts'
import { dataFolder } from './data-folder.ts'
import { printable } from './printable.ts'
import { type OpenedSystem, openSystem, type SystemOptions } from './system-option.ts'

/**
 * Runs a command's work; what the disk, the archive, a file, a sheet or the user's input did wrong becomes one line on standard error
 * and exit code 2. Anything else is a mistake of the program and is thrown on.
 */
export async function archiveAction(work: () => void | Promise<void>): Promise<void> {
  try {
    await work()
  } catch (cause) {
    process.exitCode = complain(cause)
  }
}

/** One line on standard error. @throws what is no fault of the input */
export function complain(cause: unknown): 2 {
  const isInput =
    cause instanceof ArchiveError || cause instanceof UnreadableFile || cause instanceof SheetError
  if (!isInput) throw cause
  process.stderr.write(`stillhold: ${printable(cause.message)}\n`)
  return 2
}

/** What was found when the archive was opened is progress, not a result: standard error. */
export function tellNotices(notices: readonly string[]): void {
  for (const line of notices) process.stderr.write(`archive: ${printable(line)}\n`)
}

/** What an archive knows of one system. */
export interface ArchiveKnows extends OpenedSystem {
  readonly kept: readonly KeptRecord[]
  readonly evidence: readonly Evidence[]
}

/**
 * Reads an archive, and the system as its file stands today; without one as the newest record has it.
 *
 * @param folderless takes a folder that is not there yet for an archive without records
 */
export function readArchive(
  options: SystemOptions & { readonly data?: string },
  programVersion: string,
  folderless = false,
): ArchiveKnows {
  const folder = dataFolder(options.data)
  const kept = folderless && !existsSync(folder) ? [] : keptIn(folder, programVersion)
  const newest = kept.at(-1)?.record
  const opened = openSystem(options, newest && { file: newest.id, text: newest.system.text })
  return { ...opened, kept, evidence: new ArchiveEvidence().of(kept) }
}

/** All records of an archive. */
export function keptIn(folder: string, programVersion: string): KeptRecord[] {
  return withArchive(folder, { programVersion, readOnly: true }, (archive) => archive.kept())
}

/** Opens the archive for one piece of work and closes it whatever happens. */
export function withArchive<T>(
  data: string | undefined,
  options: Parameters<typeof openArchive>[1],
  work: (archive: Archive) => T,
): T {
  const archive = openArchive(dataFolder(data), options)
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
