/**
 * Folders whose code takes no entry of a list for granted (`noUncheckedIndexedAccess` in their tsconfig.json). The
 * compiler also reports the files that they import, which index columns in hot loops: those lines are left out.
 */
import { spawnSync } from 'node:child_process'

const folders = ['dashboard/server', 'ingest/system-file']
/** Indexes typed columns in hot loops. */
const excepted = 'dashboard/server/session/columns.ts('

const found = folders.flatMap((folder) => {
  const { stdout, error } = spawnSync('npx', ['tsc', '--noEmit', '-p', folder], {
    encoding: 'utf8',
    shell: process.platform === 'win32',
  })
  // An error without a file: the compiler looked at nothing.
  if (error || /^error /m.test(stdout)) throw new Error(`tsc -p ${folder}: ${error ?? stdout.slice(0, 500)}`)
  return stdout.split('\n').filter((line) => line.startsWith(`${folder}/`) && !line.startsWith(excepted))
})
for (const line of found) console.error(line)
process.exitCode = found.length > 0 ? 1 : 0
