/**
 * Folders whose code takes no entry of a list for granted (`noUncheckedIndexedAccess`), as checked-index.json lists them. The
 * compiler also reports the files that they import, which index columns in hot loops: those lines are left out.
 */
import { spawnSync } from 'node:child_process'
import { readFileSync } from 'node:fs'

const project = '.ci/checked-index.json'
const folders = JSON.parse(readFileSync(project, 'utf8')).include.map((folder) => folder.replace('../', ''))
/** Index columns in hot loops. */
const excepted = [
  'dashboard/server/session/columns.ts',
  'dashboard/web/live/live-trace.ts',
  'dashboard/web/parts/line-path.ts',
  'ingest/recording/min-max-columns.ts',
  'ingest/recording/numbers-in-order.ts',
  'ingest/recording/scale-column.ts',
]

const { stdout, error } = spawnSync('npx', ['tsc', '--noEmit', '-p', project], {
  encoding: 'utf8',
  shell: process.platform === 'win32',
})
// An error without a file: the compiler looked at nothing.
if (error || /^error /m.test(stdout)) throw new Error(`tsc -p ${project}: ${error ?? stdout.slice(0, 500)}`)
const found = stdout
  .split('\n')
  .filter((line) => folders.some((folder) => line.startsWith(`${folder}/`)))
  .filter((line) => !excepted.some((file) => line.startsWith(`${file}(`)))
for (const line of found) console.error(line)
process.exitCode = found.length > 0 ? 1 : 0
