import { execFileSync, spawn } from 'node:child_process'
import { mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { fileURLToPath } from 'node:url'
import { lockFolder } from '#dashboard/archive/store/folder-lock.ts'
import { openSqlite } from '#dashboard/archive/store/open-sqlite.ts'
import { openRecordIndex } from '#dashboard/archive/store/record-index.ts'

// `tsx tests/trust/sqlite-trial.ts`: a row of the table in docs/decisions.md for the SQLite that this Node takes: kills,
// locks, damaged files and a full disk. Run it once with each Node. Needs Linux and the right to mount.

const [task, at = ''] = process.argv.slice(2)
const record = (n: number) => ({
  chain: '',
  sequence: n,
  id: `r${n}`,
  sha256: 'hash',
  text: JSON.stringify({ kind: 'hold', sealed_at: String(n), filler: 'x'.repeat(3000) }),
})

if (task === 'write') {
  const index = openRecordIndex(at)
  for (let n = (index.chain('').at(-1)?.sequence ?? 0) + 1; ; n++) {
    index.put(record(n))
    process.stdout.write(`${n}\n`)
  }
} else if (task === 'lock') {
  lockFolder(at, new Date())
  process.stdout.write('held\n')
  setInterval(() => {}, 1000)
} else await trial()

async function trial(): Promise<void> {
  const folder = mkdtempSync(join(tmpdir(), 'stillhold-sqlite-'))
  const database = openSqlite(':memory:')
  const version = database.prepare('SELECT sqlite_version() AS version').get()?.version
  const cells = [
    process.versions.node,
    version,
    await kills(join(folder, 'killed.sqlite'), 60),
    await locks(folder, 10),
    damage(join(folder, 'damaged.sqlite'), 400),
    fullDisk(folder),
  ]
  rmSync(folder, { recursive: true, force: true })
  process.stdout.write(`| ${cells.join(' | ')} |\n`)
}

function start(...words: string[]) {
  const child = spawn(process.execPath, [...process.execArgv, fileURLToPath(import.meta.url), ...words], {
    stdio: ['ignore', 'pipe', 'inherit'],
  })
  let said = ''
  child.stdout.on('data', (chunk: Buffer) => {
    said += chunk
  })
  const spoke = new Promise<void>((resolve) => child.stdout.once('data', () => resolve()))
  const ended = new Promise<void>((resolve) => child.once('close', () => resolve()))
  return { child, spoke, ended, said: () => said }
}

/** Killed at any moment of a write: whatever was said to be written is there, and the index opens as it is. */
async function kills(path: string, count: number): Promise<string> {
  let kept = 0
  for (let k = 0; k < count; k++) {
    const { child, spoke, ended, said } = start('write', path)
    await spoke
    await new Promise((resolve) => setTimeout(resolve, Math.random() * 60))
    child.kill('SIGKILL')
    await ended
    const told = Number(said().trimEnd().split('\n').at(-1))
    const index = openRecordIndex(path)
    const last = index.chain('').at(-1)?.sequence ?? 0
    if (index.replaced === null && last >= told && index.chain('').length === last) kept++
    index.close()
  }
  return `${kept} of ${count} kept all`
}

async function locks(folder: string, count: number): Promise<string> {
  let refused = 0
  let freed = 0
  for (let k = 0; k < count; k++) {
    const { child, spoke, ended } = start('lock', folder)
    await spoke
    try {
      lockFolder(folder, new Date()).release()
    } catch {
      refused++
    }
    child.kill('SIGKILL')
    await ended
    lockFolder(folder, new Date()).release()
    freed++
  }
  return `${refused} of ${count} refused, ${freed} free after a kill`
}

function damage(path: string, count: number): string {
  const made = openRecordIndex(path)
  for (let n = 1; n <= 20; n++) made.put(record(n))
  made.close()
  const whole = readFileSync(path)
  const found = { sound: 0, anew: 0, failed: 0 }
  for (let k = 0; k < count; k++) {
    const bytes = Buffer.from(whole)
    const place = Math.floor(Math.random() * bytes.length)
    const isCut = k % 4 === 0
    if (!isCut) bytes[place] ^= 1 + Math.floor(Math.random() * 255)
    writeFileSync(path, isCut ? bytes.subarray(0, place) : bytes)
    try {
      const index = openRecordIndex(path)
      index.chain('')
      found[index.replaced === null ? 'sound' : 'anew']++
      index.close()
    } catch {
      found.failed++
    }
  }
  return `${found.sound} sound, ${found.anew} made anew, ${found.failed} failed`
}

function fullDisk(folder: string): string {
  const disk = mkdtempSync(join(folder, 'disk-'))
  execFileSync('mount', ['-t', 'tmpfs', '-o', 'size=400k', 'tmpfs', disk])
  try {
    writeFileSync(join(disk, 'ballast'), Buffer.alloc(100_000))
    const path = join(disk, 'index.sqlite')
    const index = openRecordIndex(path)
    let n = 0
    let code = ''
    while (code === '') {
      try {
        index.put(record(n + 1))
        n++
      } catch (error) {
        code = String((error as { code?: string }).code)
      }
    }
    const kept = index.chain('').length === n
    rmSync(join(disk, 'ballast'))
    index.put(record(n + 1))
    index.close()
    const again = openRecordIndex(path)
    const whole = kept && again.replaced === null && again.chain('').length === n + 1
    again.close()
    return `${code}, then ${whole ? 'all kept' : 'LOST'}`
  } finally {
    execFileSync('umount', ['-l', disk])
  }
}
