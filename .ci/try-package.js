// Packs the program as a registry would get it, installs it in an empty folder and uses it there as a stranger does:
// `node .ci/try-package.js`, on any system, after a build; `--write` puts sizes and time into docs/installing.md. Ends with the line `N passed, N failed, N skipped`.
import { spawn, spawnSync } from 'node:child_process'
import { once } from 'node:events'
import { mkdtempSync, readdirSync, readFileSync, rmSync, statSync, writeFileSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { fileURLToPath } from 'node:url'

const root = fileURLToPath(new URL('..', import.meta.url))
const { name, version } = JSON.parse(readFileSync(join(root, 'package.json'), 'utf8'))
const folder = mkdtempSync(join(tmpdir(), 'stillhold-package-'))
const count = { passed: 0, failed: 0 }

/** Runs words through the shell, since npm and npx are scripts on Windows. */
function run(words, cwd = folder) {
  const { status, stdout, stderr } = spawnSync(words, { cwd, shell: true, encoding: 'utf8' })
  return { status, stdout, all: `$ ${words}\n${stdout}${stderr}ended with ${status}\n` }
}

function check(claim, holds, said) {
  count[holds ? 'passed' : 'failed']++
  console.log(`${holds ? 'ok  ' : 'FAIL'} ${claim}`)
  if (!holds) console.log(said)
}

/** A command of the installed package ends with the code and prints the text. */
function tried(args, code, text) {
  const { status, stdout, all } = run(`npx --no-install ${name} ${args}`)
  check(`npx ${name} ${args}`, status === code && stdout.includes(text), all)
}

function bytesBelow(path) {
  const files = readdirSync(path, { recursive: true, withFileTypes: true }).filter((entry) => entry.isFile())
  return files.reduce((sum, entry) => sum + statSync(join(entry.parentPath, entry.name)).size, 0)
}

/** How large it is, and how long its installation took: goal 40 MB and 15 s on a quiet machine. */
function measured(seconds) {
  const MB = (bytes) => `${(bytes / 1e6).toFixed(1)} MB`
  const installed = bytesBelow(join(folder, 'node_modules'))
  check('installed under 40 MB', installed < 40e6, MB(installed))
  const packed = statSync(join(folder, `${name}-${version}.tgz`)).size
  const own = bytesBelow(join(folder, 'node_modules', name))
  const sqlite = bytesBelow(join(folder, 'node_modules', '@libsql'))
  const cells = [process.platform, process.versions.node, MB(packed), MB(installed), MB(own), MB(sqlite)]
  const table = `| system | Node | packed | installed | of it the program | SQLite for older Node | npm install |
| --- | --- | --- | --- | --- | --- | --- |
| ${cells.join(' | ')} | ${seconds.toFixed(0)} s |`
  console.log(table)
  if (!process.argv.includes('--write')) return
  const page = join(root, 'docs', 'installing.md')
  const marked = /(<!-- sizes[^\n]*-->\n)[\s\S]*?(?=\n\n)/
  writeFileSync(
    page,
    readFileSync(page, 'utf8').replace(marked, (_all, mark) => mark + table),
  )
}

async function demoAnswers() {
  const program = join(folder, 'node_modules', name, 'dist', 'stillhold.js')
  const serve = spawn(process.execPath, [program, 'demo', '--listen', '127.0.0.1:0'], {
    cwd: folder,
    stdio: ['ignore', 'pipe', 'inherit'],
  })
  const ended = once(serve, 'exit')
  try {
    const first = await Promise.race([once(serve.stdout, 'data'), ended])
    const url = String(first[0]).trim()
    const page = await fetch(url)
    const html = await page.text()
    check('demo: the page answers', page.ok && html.includes('<script'), `${url}: ${page.status}\n${html}`)
    const state = await (await fetch(`${url}/api/state`)).json()
    check('demo: the bench runs', state.demo === true, JSON.stringify(state))
  } catch (error) {
    check('demo', false, error)
  } finally {
    serve.kill()
    await ended
  }
}

try {
  const packed = run(`npm pack --silent --ignore-scripts --pack-destination "${folder}"`, root)
  writeFileSync(join(folder, 'package.json'), '{ "private": true }')
  const began = performance.now()
  const installed = run(`npm install --no-audit --no-fund ./${name}-${version}.tgz`)
  check('npm pack, npm install in an empty folder', installed.status === 0, packed.all + installed.all)
  if (installed.status === 0) {
    measured((performance.now() - began) / 1000)
    const shipped = `node_modules/${name}/recordings`
    const system = `--system ${shipped}/floatplane.yaml`
    tried('--version', 0, version)
    tried(`plan ${system} --hold feed-lines-10psi`, 0, 'feed-lines-10psi')
    tried(`analyze ${shipped}/lines-retest.lp ${system}`, 0, 'PASS')
    tried(`analyze ${shipped}/lines-leak.lp ${system}`, 10, 'FAIL')
    tried(`seal ${shipped}/lines-retest.lp ${system} --operator ab --data archive`, 0, 'pass')
    tried('report 1 --data archive --out report.pdf', 0, 'report.pdf')
    tried('verify report.pdf', 0, 'verdict pass')
    tried('demo --files practice', 0, 'practice')
    tried('analyze practice/lines-leak.lp --system practice/floatplane.yaml', 10, 'FAIL')
    await demoAnswers()
  }
} finally {
  rmSync(folder, { recursive: true, force: true, maxRetries: 3 })
}
console.log(`${count.passed} passed, ${count.failed} failed, 0 skipped`)
process.exitCode = count.failed > 0 ? 1 : 0
