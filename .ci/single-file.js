// Makes one file that runs without Node beside it, for the system it is made on: `node .ci/single-file.js [FILE]`, after a
// build. It is Node itself with the program inside (Node's single executable applications). At its first start it unpacks the
// program into the user's cache folder, since a thread, the page and the serial port's binding must lie on a disk.
// On macOS sign the result (`codesign --sign - FILE`), on Windows too. Ends with the line `N passed, N failed, N skipped`.
import { spawn, spawnSync } from 'node:child_process'
import { createHash } from 'node:crypto'
import { once } from 'node:events'
import {
  chmodSync,
  copyFileSync,
  mkdirSync,
  mkdtempSync,
  readdirSync,
  readFileSync,
  rmSync,
  writeFileSync,
} from 'node:fs'
import { tmpdir } from 'node:os'
import { dirname, join, relative, resolve, sep } from 'node:path'
import { fileURLToPath } from 'node:url'

const root = fileURLToPath(new URL('..', import.meta.url))
const { version, dependencies, optionalDependencies } = JSON.parse(
  readFileSync(join(root, 'package.json'), 'utf8'),
)
const { platform, arch } = process
const name = `stillhold-${version}-${platform}-${arch}${platform === 'win32' ? '.exe' : ''}`
const out = resolve(process.argv[2] ?? join(root, 'artifacts', name))
const [major, minor] = process.versions.node.split('.').map(Number)
const ownSqlite = major > 22 || (major === 22 && minor >= 13)

/** Packages that the program loads from node_modules, with those that they need. */
function packagesOf(names, found = new Set()) {
  for (const each of names) {
    const manifest = join(root, 'node_modules', each, 'package.json')
    let text
    try {
      text = readFileSync(manifest, 'utf8')
    } catch {
      continue
    }
    if (found.has(each)) continue
    found.add(each)
    const { dependencies: needed, optionalDependencies: wanted } = JSON.parse(text)
    packagesOf(Object.keys({ ...needed, ...wanted }), found)
  }
  return found
}

/** Bindings of other systems stay away. */
const isForeign = (path) =>
  (path.includes(`${sep}prebuilds${sep}`) &&
    !path.includes(`${sep}prebuilds${sep}${platform}-${arch}${sep}`)) ||
  (path.includes(`@libsql${sep}`) && !path.includes(`${platform}-${arch}`)) ||
  (path.includes('-musl') && process.report.getReport().header.glibcVersionRuntime !== undefined)

function filesBelow(path) {
  return readdirSync(path, { recursive: true, withFileTypes: true })
    .filter((entry) => entry.isFile())
    .map((entry) => join(entry.parentPath, entry.name))
    .filter((file) => !isForeign(file) && !/\.(map|d\.ts|d\.cts|md|cc|h|gyp)$/.test(file))
}

const launcher = `
const { getAsset } = require('node:sea')
const { createRequire } = require('node:module')
const { existsSync, mkdirSync, renameSync, rmSync, writeFileSync } = require('node:fs')
const { homedir } = require('node:os')
const { dirname, join } = require('node:path')
const cache = process.env.XDG_CACHE_HOME || process.env.LOCALAPPDATA || join(homedir(), '.cache')
const folder = join(cache, 'stillhold', getAsset('id', 'utf8'))
if (!existsSync(folder)) {
  const part = folder + '.' + process.pid
  for (const path of JSON.parse(getAsset('files', 'utf8'))) {
    mkdirSync(dirname(join(part, path)), { recursive: true, mode: 0o700 })
    writeFileSync(join(part, path), Buffer.from(getAsset('/' + path)))
  }
  try {
    renameSync(part, folder)
  } catch (cause) {
    // Another start was quicker.
    if (!existsSync(folder)) throw cause
    rmSync(part, { recursive: true, force: true })
  }
}
createRequire(join(folder, 'start.cjs'))('./start.cjs')
`

/** The page, its files and the analysis thread come from the unpacked program. */
async function answers() {
  const bench = spawn(out, ['demo', '--listen', '127.0.0.1:0'], {
    cwd: work,
    env: alone,
    stdio: ['ignore', 'pipe', 'ignore'],
  })
  const ended = once(bench, 'exit')
  const [first] = await Promise.race([once(bench.stdout, 'data'), ended])
  const url = String(first).trim()
  const html = await (await fetch(url)).text().catch(String)
  const script = /src="([^"]+\.js)"/.exec(html)?.[1] ?? 'none'
  const { ok } = await fetch(new URL(script, `${url}/`))
  check('stillhold demo: the page and its script answer', ok, html)
  bench.kill()
  await ended
}

const work = mkdtempSync(join(tmpdir(), 'stillhold-single-'))
const alone = {
  PATH: platform === 'win32' ? process.env.SystemRoot : '/nonexistent',
  XDG_CACHE_HOME: work,
  LOCALAPPDATA: work,
  HOME: work,
}
const count = { passed: 0, failed: 0 }
function check(claim, holds, said) {
  count[holds ? 'passed' : 'failed']++
  console.log(`${holds ? 'ok  ' : 'FAIL'} ${claim}`)
  if (!holds) console.log(said)
  return holds
}

/** Runs the one file with nothing of Node on the path, in an empty folder. */
function tried(args, code, text) {
  const { status, stdout, stderr } = spawnSync(out, args, { cwd: work, env: alone, encoding: 'utf8' })
  check(
    `stillhold ${args.join(' ')}`,
    status === code && stdout.includes(text),
    `ended with ${status}\n${stdout}${stderr}`,
  )
}

try {
  const outside = [...Object.keys(dependencies), ...(ownSqlite ? [] : Object.keys(optionalDependencies))]
  const files = [
    join(root, 'package.json'),
    join(root, 'LICENSE'),
    ...filesBelow(join(root, 'dist')),
    join(root, 'dist', 'licenses.md'),
    ...filesBelow(join(root, 'recordings')),
    ...[...packagesOf(outside)].flatMap((each) => filesBelow(join(root, 'node_modules', each))),
  ]
  const assets = {}
  const hash = createHash('sha256')
  for (const file of files) {
    const path = relative(root, file).split(sep).join('/')
    assets[`/${path}`] = file
    hash.update(path).update(readFileSync(file))
  }
  const put = (key, text) => {
    writeFileSync(join(work, key), text)
    assets[key] = join(work, key)
  }
  put('start.cjs', `import('./dist/stillhold.js')\n`)
  assets['/start.cjs'] = join(work, 'start.cjs')
  put('id', `${version}-${hash.digest('hex').slice(0, 12)}`)
  put(
    'files',
    JSON.stringify(
      Object.keys(assets)
        .filter((key) => key.startsWith('/'))
        .map((key) => key.slice(1)),
    ),
  )
  writeFileSync(join(work, 'launcher.cjs'), launcher)
  const blob = join(work, 'blob')
  writeFileSync(
    join(work, 'sea.json'),
    JSON.stringify({
      main: join(work, 'launcher.cjs'),
      output: blob,
      disableExperimentalSEAWarning: true,
      assets,
    }),
  )
  const made = spawnSync(process.execPath, ['--experimental-sea-config', join(work, 'sea.json')], {
    encoding: 'utf8',
  })
  mkdirSync(dirname(out), { recursive: true })
  copyFileSync(process.execPath, out)
  chmodSync(out, 0o755)
  const mac = platform === 'darwin' ? ' --macho-segment-name NODE_SEA' : ''
  const injected = spawnSync(
    `npx --yes postject@1.0.0-alpha.6 "${out}" NODE_SEA_BLOB "${blob}" --sentinel-fuse NODE_SEA_FUSE_fce680ab2cc467b6e072b8b5df1996b2${mac}`,
    { shell: true, encoding: 'utf8' },
  )
  if (
    check(
      `one file: ${out}`,
      made.status === 0 && injected.status === 0,
      made.stderr + injected.stdout + injected.stderr,
    )
  ) {
    tried(['--version'], 0, version)
    tried(['demo', '--files'], 0, 'recordings')
    tried(['analyze', 'recordings/lines-leak.lp', '--system', 'recordings/floatplane.yaml'], 10, 'FAIL')
    const seal = [
      'seal',
      'recordings/lines-retest.lp',
      '--system',
      'recordings/floatplane.yaml',
      '--operator',
      'ab',
    ]
    tried([...seal, '--data', 'archive'], 0, 'pass')
    tried(['report', '1', '--data', 'archive', '--out', 'report.pdf'], 0, 'report.pdf')
    tried(['verify', 'report.pdf'], 0, 'verdict pass')
    // The serial port's binding is there: it looks for the port and finds none.
    tried(['record', '--port', join(work, 'no-port'), '--out', 'none.lp'], 2, '')
    await answers()
  }
} finally {
  rmSync(work, { recursive: true, force: true, maxRetries: 3 })
}
console.log(`${count.passed} passed, ${count.failed} failed, 0 skipped`)
process.exitCode = count.failed > 0 ? 1 : 0
