import { spawnSync } from 'node:child_process'
import { existsSync } from 'node:fs'

// `npm ci` and `npm install` in a clone run this. With --omit=dev there is nothing to build with:
// an earlier build then stays as it is, and without one there is nothing to run.
if (existsSync(new URL('../node_modules/vite', import.meta.url))) {
  const { status } = spawnSync('npm run build', { stdio: 'inherit', shell: true })
  process.exitCode = status ?? 1
} else if (!existsSync(new URL('../dist/stillhold.js', import.meta.url))) {
  console.error(
    'stillhold is not built, and --omit=dev left out what builds it: run npm ci, then npm prune --omit=dev',
  )
  process.exitCode = 1
}
