import { mkdtempSync, rmSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { atEnd } from './at-end.ts'

/** A new empty folder, removed at the end of the file. */
export function emptyFolder(): string {
  const folder = mkdtempSync(join(tmpdir(), 'stillhold-test-'))
  atEnd(() => rmSync(folder, { recursive: true, force: true }))
  return folder
}
