import { execFileSync, spawnSync } from 'node:child_process'
import {
  copyFileSync,
  existsSync,
  mkdirSync,
  readdirSync,
  readFileSync,
  rmSync,
  writeFileSync,
} from 'node:fs'
import { join } from 'node:path'
import { afterEach, describe, expect, it } from 'vitest'
import { emptyFolder } from '#tests/dashboard/archive/bench-archive.ts'
import { until } from '#tests/dashboard/server/until.ts'
import { hasSocat, PseudoTerminal } from '#tests/ingest/sources/pseudo-terminal.ts'
import { BenchProcess } from './bench-process.ts'
import { NumberedLogger } from './numbered-logger.ts'
import { runProgram } from './run-program.ts'

const benches: BenchProcess[] = []
const undo: (() => void | Promise<void>)[] = []
afterEach(async () => {
  for (const bench of benches.splice(0)) await bench.kill()
  for (const act of undo.splice(0).reverse()) await act()
})

function workshop(): { system: string; data: string } {
  const folder = emptyFolder()
  const system = join(folder, 'aircraft.yaml')
  copyFileSync(new URL('../../recordings/floatplane.yaml', import.meta.url), system)
  return { system, data: join(folder, 'data') }
}

async function serve(...args: readonly string[]): Promise<BenchProcess> {
  const bench = await BenchProcess.start(args)
  benches.push(bench)
  return bench
}

async function logger(): Promise<NumberedLogger> {
  const made = new NumberedLogger()
  undo.push(() => made.remove())
  await made.plug()
  return made
}

const mayMount =
  process.platform === 'linux' &&
  (() => {
    const at = '/tmp/stillhold-mount-probe'
    mkdirSync(at, { recursive: true })
    const isDone = spawnSync('mount', ['-t', 'tmpfs', '-o', 'size=64k', 'tmpfs', at]).status === 0
    if (isDone) spawnSync('umount', [at])
    rmSync(at, { recursive: true, force: true })
    return isDone
  })()

function smallDisk(options: string): string {
  const at = emptyFolder()
  execFileSync('mount', ['-t', 'tmpfs', '-o', options, 'tmpfs', at])
  undo.push(() => void spawnSync('umount', ['-l', at]))
  return at
}

const textOf = (folder: string) =>
  readdirSync(folder)
    .filter((name) => name.endsWith('.lp'))
    .map((name) => readFileSync(join(folder, name), 'utf8'))
    .join('')
const numbersIn = (text: string) => [...text.matchAll(/^logger n=(\d+)i/gm)].map(([, n]) => Number(n))

describe('serve refuses in one line', () => {
  it('a port that is taken', async () => {
    const { system, data } = workshop()
    const first = await serve('--system', system, '--data', data)
    const ran = await runProgram(
      'serve',
      '--system',
      system,
      '--data',
      `${data}-2`,
      '--listen',
      `127.0.0.1:${first.port}`,
    )
    expect([ran.code, ran.said.trim().split('\n').length]).toEqual([2, 1])
    expect(ran.said).toMatch(/is in use.*choose another port/)
  })

  it('an archive that another program has', async () => {
    const { system, data } = workshop()
    await serve('--system', system, '--data', data)
    const ran = await runProgram('serve', '--system', system, '--data', data, '--listen', '127.0.0.1:0')
    expect([ran.code, ran.said.trim().split('\n').length]).toEqual([2, 1])
    expect(ran.said).toMatch(/another|in use|already/)
  })

  it.skipIf(!mayMount)('a folder that is read-only (skipped without the right to mount)', async () => {
    const { system } = workshop()
    const disk = smallDisk('size=1m,ro')
    const ran = await runProgram(
      'serve',
      '--system',
      system,
      '--data',
      join(disk, 'data'),
      '--listen',
      '127.0.0.1:0',
    )
    expect([ran.code, ran.said.trim().split('\n').length]).toEqual([2, 1])
    expect(ran.said).toContain(disk)
  })
})

describe.skipIf(!hasSocat)('serve goes on (skipped without socat)', () => {
  it.skipIf(!mayMount)(
    'when the disk was full: told as an alarm, and every line is there once it has room (skipped without the right to mount)',
    async () => {
      const { system } = workshop()
      const data = join(smallDisk('size=600k'), 'data')
      const line = await logger()
      const bench = await serve('--port', line.line.path, '--system', system, '--data', data)
      await bench.heard()
      const filler = join(data, '..', 'filler')
      try {
        writeFileSync(filler, Buffer.alloc(4 << 20))
      } catch {
        // The disk is full now.
      }
      await until(async () => (await bench.state()).alarms.some(({ code }) => code === 'disk-full'), 100)
      expect((await bench.startHold('rig-10psi')).status).toBe(507)
      rmSync(filler)
      await until(async () => (await bench.state()).alarms.every(({ code }) => code !== 'disk-full'), 100)
      await bench.kill('SIGTERM')
      const numbers = numbersIn(textOf(join(data, 'session')))
      expect(numbers).toEqual(numbers.map((_, i) => numbers[0] + i))
    },
  )

  it.skipIf(!mayMount)(
    'when the disk became full in a hold: the hold is void, and the lines that no file could be made for are there (skipped without the right to mount)',
    async () => {
      const { system } = workshop()
      const data = join(smallDisk('size=900k'), 'data')
      const line = await logger()
      const bench = await serve('--port', line.line.path, '--system', system, '--data', data)
      await bench.heard()
      expect((await bench.startHold('rig-10psi')).status).toBe(200)
      line.pressurePsi = 10
      await until(async () => (await bench.state()).hold?.atPressure === true, 100)
      expect((await bench.enterStage('settle')).status).toBe(200)
      const filler = join(data, '..', 'filler')
      try {
        writeFileSync(filler, Buffer.alloc(4 << 20))
      } catch {
        // The disk is full now.
      }
      // The hold runs on, for it is under pressure; ended, its recording ends and the next file finds no room at all.
      await until(async () => (await bench.state()).hold?.broken, 100)
      expect((await bench.state()).hold?.broken).toContain('the recording failed')
      expect((await bench.enterStage('vent')).status).toBe(200)
      line.pressurePsi = 0
      expect((await bench.enterStage('end')).status).toBe(200)
      const written = line.writtenMs.length
      await until(() => line.writtenMs.length > written + 80, 100)
      rmSync(filler)
      const last = await until(async () => (await bench.state()).last, 100)
      expect(last.result.verdict).toBe('void')
      await until(async () => (await bench.state()).alarms.every(({ code }) => code !== 'disk-full'), 100)
      await bench.kill('SIGTERM')
      const numbers = numbersIn(textOf(join(data, 'session'))).sort((a, b) => a - b)
      expect(numbers.at(-1)).toBeGreaterThan(written + 80)
      expect(numbers).toEqual(numbers.map((_, i) => numbers[0] + i))
      expect(readdirSync(join(data, 'session')).filter((name) => name.endsWith('.lp')).length).toBe(2)
    },
  )

  it('when it was suspended for a second: the lines of that second are there', async () => {
    const { system, data } = workshop()
    const line = await logger()
    const bench = await serve('--port', line.line.path, '--system', system, '--data', data)
    await bench.heard()
    bench.child.kill('SIGSTOP')
    const before = line.writtenMs.length
    await until(() => line.writtenMs.length > before + 40)
    bench.child.kill('SIGCONT')
    const after = line.writtenMs.length
    await until(async () => numbersIn(textOf(join(data, 'session'))).some((n) => n > after), 100)
    const numbers = numbersIn(textOf(join(data, 'session')))
    expect(numbers).toEqual(numbers.map((_, i) => numbers[0] + i))
  })

  it('when the baud rate is wrong: no sample, the bytes are kept, and the port says that it rejects', async () => {
    const { system, data } = workshop()
    const line = new PseudoTerminal()
    undo.push(() => line.remove())
    await line.plug()
    const bench = await serve('--port', line.path, '--system', system, '--data', data)
    const random = Buffer.from(Array.from({ length: 4096 }, (_, i) => (i * 7919 + (i >> 3) * 104729) % 256))
    await until(async () => {
      line.write(random)
      const [state] = (await bench.state()).ports
      return state && state.rejected > 20 ? state : null
    }, 100)
    expect((await bench.state()).newest).toEqual({})
    await until(() => existsSync(join(data, 'session')) && textOf(join(data, 'session')).includes('#! '), 100)
    const kept = textOf(join(data, 'session')).split('\n')
    expect(kept.filter((each) => each !== '' && !each.startsWith('#') && !each.startsWith('mark,'))).toEqual(
      [],
    )
  })
})
