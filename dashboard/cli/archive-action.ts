import { ArchiveError } from '#dashboard/archive/archive-error.ts'
import { printable } from './printable.ts'

/**
 * Runs a command's work; what the disk, the archive or the user's input did wrong becomes one line on standard error
 * and exit code 2. Anything else is a mistake of the program and is thrown on.
 */
export async function archiveAction(work: () => void | Promise<void>): Promise<void> {
  try {
    await work()
  } catch (cause) {
    if (!(cause instanceof ArchiveError)) throw cause
    process.stderr.write(`stillhold: ${printable(cause.message)}\n`)
    process.exitCode = 2
  }
}

/** What was found when the archive was opened is progress, not a result: standard error. */
export function tellNotices(notices: readonly string[]): void {
  for (const line of notices) process.stderr.write(`archive: ${printable(line)}\n`)
}
