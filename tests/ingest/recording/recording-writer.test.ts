import { execFileSync, spawn } from 'node:child_process'
import {
  chmodSync,
  existsSync,
  mkdirSync,
  mkdtempSync,
  readFileSync,
  rmSync,
  symlinkSync,
  writeFileSync,
} from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { beforeEach, describe, expect, it } from 'vitest'
import { readRecording } from '#ingest/recording/read-recording.ts'
import { RecordingFault } from '#ingest/recording/recording-fault.ts'
import { openRecording } from '#ingest/recording/recording-writer.ts'
import { systemFromFile } from '#ingest/system-file/read-system-file.ts'
import { emptyFolder } from '#tests/empty-folder.ts'
import { DiskLog } from '#tests/trust/attacks/disk-log.ts'
import { clocks, second } from './clocks.ts'
import { contractSystem } from './contract-system.ts'
import { linesOf } from './lines-of.ts'

const system = systemFromFile(contractSystem, 'plane.yaml')

let folder: string
beforeEach(() => {
  folder = emptyFolder()
})

describe('openRecording recovers', () => {
  it('openRecording(cut at every byte) keeps every whole line, closes the half one and continues', () => {
    const whole = join(folder, 'whole.lp')
    const { clock, pass } = clocks()
    const first = openRecording(whole, { clock })
    first.append('logger,port=a p1=10.2,t1=20')
    pass(second)
    first.mark({ kind: 'note', fields: { text: 'für "später"' } })
    first.reject('boot banner', Buffer.from([0, 255, 10, 65]))
    first.append('logger,port=a p1=10.1,t1=20')
    first.close()
    const bytes = readFileSync(whole)
    for (let length = 0; length <= bytes.length; length++) {
      const path = join(folder, 'cut.lp')
      writeFileSync(path, bytes.subarray(0, length))
      const writer = openRecording(path, { clock })
      writer.append('logger,port=a p1=9,t1=20 1767225700000000000')
      writer.close()

      const after = readFileSync(path)
      const kept = bytes.subarray(0, length).lastIndexOf(10) + 1
      expect(after.subarray(0, kept)).toEqual(bytes.subarray(0, kept))
      expect(after.toString('utf8').startsWith('# stillhold recording 1\n')).toBe(true)
      const half = bytes.subarray(kept, length)
      const rest = after.subarray(kept).toString('latin1').split('\n')
      expect(rest.at(-2)).toBe('logger,port=a p1=9,t1=20 1767225700000000000')
      if (length < 24) continue
      const told = rest.length === 3 ? rest[0] : ''
      const isComment = told === half.toString('latin1') || told.startsWith('#! cut line: ')
      expect([length, told === '' ? half.length === 0 : isComment]).toEqual([length, true])
      const { channels } = readRecording(after, system, 'cut.lp')
      const samples = Array.from(channels[0].reading, (pa) => Math.round(pa / 689.4757293168361) / 10)
      expect([[9], [10.2, 9], [10.2, 10.1, 9]]).toContainEqual(samples)
    }
  })

  it.each([
    'shopping list\n',
    'x',
    ' # stillhold recording 1\n',
    '# stillhold recording 12\n',
    '# stillhold recording 2',
  ])('openRecording(%j) refuses to write into another file', (text) => {
    const path = join(folder, 'notes.txt')
    writeFileSync(path, text)
    for (const waits of [false, true]) {
      const faults: unknown[] = []
      const onFault = (fault: unknown) => faults.push(fault)
      const open = () => openRecording(path, { ...clocks(), waits, onFault })
      if (!waits) expect(open).toThrow(RecordingFault)
      else open().close()
      if (waits)
        expect(faults[0]).toMatchObject({
          ...{ code: 'not-a-recording', operation: 'open', path },
          hint: 'choose another name',
        })
      else expect(open).toThrow(/first line is not "# stillhold recording 1"; choose another name$/)
    }
    expect(readFileSync(path, 'utf8')).toBe(text)
  })

  it.each([
    ['# stillhold recording 1\r\n', 200_000],
    ['# stillhold recording 1\n', 65_536],
    ['# stillhold recording 1\n', 65_535],
    [`# stillhold recording 1\n${'logger p1=1 1767225600000000000\n'.repeat(5000)}`, 10],
  ])('openRecording(a half line of any length) keeps its bytes as a comment: after %#', (whole, length) => {
    const path = join(folder, 'a.lp')
    const half = 'logger p1='.padEnd(length, '1')
    writeFileSync(path, whole + half)
    openRecording(path, clocks()).close()
    expect(readFileSync(path, 'utf8')).toBe(`${whole}#! cut line: ${half}\n`)
  })

  it('a killed writer (SIGKILL) loses no mark and nothing older than a second', async () => {
    const path = join(folder, 'a.lp')
    const script = new URL('./write-forever.ts', import.meta.url).pathname
    const child = spawn(process.execPath, ['--import', 'tsx', script, path], {
      stdio: ['ignore', 'pipe', 'inherit'],
    })
    const said: string[] = []
    child.stdout.setEncoding('utf8')
    let text = ''
    for await (const piece of child.stdout) {
      text += piece
      said.length = 0
      said.push(...text.split('\n').slice(0, -1))
      if (said.filter((line) => line.startsWith('mark')).length >= 15 && !child.killed) child.kill('SIGKILL')
    }
    const killedMs = Number(
      said
        .filter((line) => !line.startsWith('mark'))
        .at(-1)!
        .split(' ')[0],
    )
    openRecording(path, clocks()).close()
    const lines = linesOf(path)
    const numbers = lines
      .flatMap((line) => /^(?:logger|mark,kind=note) .*?\bn=(\d+)/.exec(line)?.[1] ?? [])
      .map(Number)
    expect(numbers).toEqual(numbers.map((_, n) => n))
    const newest = Math.max(...numbers)
    const lastMark = Number(
      said
        .filter((line) => line.startsWith('mark'))
        .at(-1)!
        .slice(5),
    )
    expect(newest).toBeGreaterThanOrEqual(lastMark)
    const secondBefore = said
      .filter((line) => !line.startsWith('mark'))
      .map((line) => line.split(' ').map(Number))
      .filter(([ms]) => ms < killedMs - 1000)
      .at(-1)
    expect(newest).toBeGreaterThanOrEqual((secondBefore?.[1] ?? 0) - 1)
    expect(readRecording(readFileSync(path), system, 'a.lp').rejectedLines).toBeLessThanOrEqual(1)
  })
})

describe('openRecording fails loudly', () => {
  const fails = (act: () => unknown): RecordingFault => {
    try {
      act()
    } catch (error) {
      if (error instanceof RecordingFault) return error
      throw error
    }
    throw new Error('it did not fail')
  }

  it('openRecording(no such folder) states operation, path, cause and remedy', () => {
    const path = join(folder, 'none', 'a.lp')
    const fault = fails(() => openRecording(path, clocks()))
    expect(fault).toMatchObject({ code: 'no-folder', operation: 'open', path, hint: 'make the folder first' })
    expect(fault.message).toMatch(/^cannot open the recording .*ENOENT.*; make the folder first$/)
  })

  it.skipIf(process.platform === 'win32')(
    'openRecording(read-only folder) is no-permission (skipped on Windows, which has no such mode)',
    () => {
      chmodSync(folder, 0o555)
      // Root may write anywhere: become nobody meanwhile.
      const isRoot = process.getuid?.() === 0
      if (isRoot) process.seteuid?.(65_534)
      try {
        expect(fails(() => openRecording(join(folder, 'a.lp'), clocks())).code).toBe('no-permission')
      } finally {
        if (isRoot) process.seteuid?.(0)
        chmodSync(folder, 0o700)
      }
    },
  )

  it.skipIf(!existsSync('/dev/full'))(
    'openRecording(full device) is disk-full (skipped without /dev/full)',
    () => {
      const path = join(folder, 'full.lp')
      symlinkSync('/dev/full', path)
      expect(fails(() => openRecording(path, clocks()))).toMatchObject({
        code: 'disk-full',
        operation: 'write',
      })
    },
  )

  const canMount = (() => {
    const there = mkdtempSync(join(tmpdir(), 'stillhold-mount-'))
    try {
      execFileSync('mount', ['-t', 'tmpfs', '-o', 'size=64k', 'tmpfs', there], { stdio: 'ignore' })
      execFileSync('umount', [there])
      return true
    } catch {
      return false
    } finally {
      rmSync(there, { recursive: true, force: true })
    }
  })()

  it.skipIf(!canMount)(
    'a disk that fills up and has room again (tmpfs; skipped where it cannot be mounted)',
    () => {
      execFileSync('mount', ['-t', 'tmpfs', '-o', 'size=64k', 'tmpfs', folder])
      try {
        const path = join(folder, 'a.lp')
        writeFileSync(join(folder, 'ballast'), Buffer.alloc(40_000))
        const writer = openRecording(path, clocks())
        let given = 0
        const give = () => {
          given++
          writer.append(`logger n=${given - 1}i,p1=10.125`)
        }
        const fault = fails(() => {
          for (;;) {
            give()
            if (given % 50 === 0) writer.sync()
          }
        })
        expect(fault).toMatchObject({ code: 'disk-full', operation: 'write', path })
        expect(fails(give).code).toBe('disk-full')
        const full = readRecording(readFileSync(path), system, 'a.lp')
        expect(full.rejectedLines).toBeLessThanOrEqual(1)

        rmSync(join(folder, 'ballast'))
        give()
        expect(writer.fault).toBeNull()
        writer.close()
        const numbers = linesOf(path).flatMap((line) => /n=(\d+)i/.exec(line)?.[1] ?? [])
        expect(numbers.map(Number)).toEqual(Array.from({ length: given }, (_, n) => n))
      } finally {
        execFileSync('umount', [folder])
      }
    },
  )

  it.skipIf(!canMount)(
    'keep(…) on a disk that fills up removes all of it: appended again, each line is there once (tmpfs; skipped where it cannot be mounted)',
    () => {
      execFileSync('mount', ['-t', 'tmpfs', '-o', 'size=64k', 'tmpfs', folder])
      try {
        const path = join(folder, 'a.lp')
        writeFileSync(join(folder, 'ballast'), Buffer.alloc(40_000))
        const writer = openRecording(path, clocks())
        writer.append('logger n=0i,p1=10.125')
        const give = () => {
          for (let n = 1; n <= 1000; n++) {
            // The request continues although one of its lines failed.
            try {
              writer.append(`logger n=${n}i,p1=10.125`)
            } catch {}
          }
        }
        expect(fails(() => writer.keep(give)).code).toBe('disk-full')
        rmSync(join(folder, 'ballast'))
        writer.keep(give)
        writer.close()
        const numbers = linesOf(path).flatMap((line) => /n=(\d+)i/.exec(line)?.[1] ?? [])
        expect(numbers.map(Number)).toEqual(Array.from({ length: 1001 }, (_, n) => n))
      } finally {
        execFileSync('umount', [folder])
      }
    },
  )
})

describe('openRecording, its power cut at every operation on the file', () => {
  it('has every line that keep() answered and every mark before the cut, and nothing that it did not write', () => {
    const home = join(folder, 'home')
    mkdirSync(home)
    const path = join(home, 'a.lp')
    const log = new DiskLog(home)
    const answered: { readonly steps: number; readonly line: string }[] = []
    log.watch(() => {
      const writer = openRecording(path, { clock: clocks().clock })
      for (let n = 0; n < 4; n++) {
        const line = `logger n=${n}i 176722560${n}000000000`
        writer.keep(() => writer.append(line))
        answered.push({ steps: log.steps.length, line })
        writer.append(`logger n=9${n}i 176722560${n}500000000`)
        const timeNs = `176722560${n}600000000`
        writer.mark({ kind: 'note', fields: { text: 'here' }, timeNs })
        answered.push({ steps: log.steps.length, line: `mark,kind=note text="here" ${timeNs}` })
      }
      writer.close()
    })
    const whole = readFileSync(path, 'utf8')
    for (let steps = 0; steps <= log.steps.length; steps++) {
      const cut = mkdtempSync(join(folder, 'cut-'))
      log.layOut(cut, steps, () => false)
      const text = existsSync(join(cut, 'a.lp')) ? readFileSync(join(cut, 'a.lp'), 'utf8') : ''
      expect(whole.startsWith(text)).toBe(true)
      for (const one of answered) if (one.steps <= steps) expect(text).toContain(`${one.line}\n`)
    }
    expect(answered).toHaveLength(8)
  })

  it('openRecording(a half line) flushes the end that it gives the line', () => {
    const path = join(folder, 'a.lp')
    const line = 'logger n=1i 1767225600000000000'
    writeFileSync(path, `# stillhold recording 1\n${line}`)
    const log = new DiskLog(folder)
    log.watch(() => openRecording(path, { clock: clocks().clock }))
    expect(log.steps.slice(-2).map(({ kind }) => kind)).toEqual(['write', 'sync-file'])
  })
})
