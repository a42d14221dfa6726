import fs, {
  closeSync,
  existsSync,
  mkdirSync,
  mkdtempSync,
  readdirSync,
  readFileSync,
  readlinkSync,
  rmSync,
  writeFileSync,
} from 'node:fs'
import { syncBuiltinESMExports } from 'node:module'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { afterEach, beforeEach, describe, expect, it, vi } from 'vitest'
import { DurableFile } from '#ingest/recording/durable-file.ts'
import { type RecordingFault, recordingFault } from '#ingest/recording/recording-fault.ts'
import { openRecording } from '#ingest/recording/recording-writer.ts'
import { syncFolder } from '#ingest/recording/sync-folder.ts'

const clock = () => ({ wallNs: 1_767_225_600_000_000_000n, monotonicNs: 5_000n })
const failure = (code: string) => Object.assign(new Error(`${code}: of the disk`), { code })
const { fdatasync, fdatasyncSync, openSync, readSync, writeSync } = fs
const real = { fdatasync, fdatasyncSync, openSync, readSync, writeSync }
/** The disk as it is, but for some operations. */
function disk(operations: object): void {
  Object.assign(fs, real, operations)
  syncBuiltinESMExports()
}

let folder: string
let path: string
beforeEach(() => {
  folder = mkdtempSync(join(tmpdir(), 'stillhold-'))
  path = join(folder, 'a.lp')
  vi.useFakeTimers()
})
afterEach(() => {
  vi.useRealTimers()
  disk({})
  rmSync(folder, { recursive: true, force: true })
})

const fails = (act: () => unknown): RecordingFault => {
  try {
    act()
  } catch (error) {
    return error as RecordingFault
  }
  throw new Error('it did not fail')
}
const linesOf = () => readFileSync(path, 'utf8').split('\n').slice(1, -1)
const writerWithFaults = () => {
  const faults: string[] = []
  const onFault = ({ code, operation }: RecordingFault) => faults.push(`${operation} ${code}`)
  return { writer: openRecording(path, { clock, onFault }), faults }
}
const fullDisk = {
  writeSync() {
    throw failure('ENOSPC')
  },
}

describe('a recording on a disk that fails', () => {
  it('tells a failed write 100 ms after the line and at each retry a second later, until it is written once', () => {
    const { writer, faults } = writerWithFaults()
    writer.append('logger p1=1 1767225600000000000')
    disk(fullDisk)
    vi.advanceTimersByTime(100)
    expect([faults, writer.fault?.code]).toEqual([['write disk-full'], 'disk-full'])
    vi.advanceTimersByTime(999)
    expect(faults).toHaveLength(1)
    vi.advanceTimersByTime(1)
    expect(faults).toHaveLength(2)
    expect(linesOf()).toEqual([])
    disk({})
    vi.advanceTimersByTime(1000)
    expect([faults.length, writer.fault, linesOf()]).toEqual([2, null, ['logger p1=1 1767225600000000000']])
    writer.close()
  })

  it('tries each new line at once while it fails, and goes on in the middle of the line where it stopped', () => {
    const { writer } = writerWithFaults()
    writer.append('logger p1=1 1767225600000000000')
    let room = 10
    disk({
      writeSync(file: number, bytes: Buffer) {
        if (room === 0) throw failure('ENOSPC')
        const written = real.writeSync(file, bytes.subarray(0, room))
        room -= written
        return written
      },
    })
    expect(fails(() => writer.sync()).code).toBe('disk-full')
    expect(fails(() => writer.append('logger p1=2 1767225601000000000')).code).toBe('disk-full')
    expect(readFileSync(path, 'utf8').split('\n')[1]).toBe('logger p1=')
    disk({})
    writer.append('logger p1=3 1767225602000000000')
    expect(linesOf()).toEqual([1, 2, 3].map((n) => `logger p1=${n} 176722560${n - 1}000000000`))
    writer.close()
  })

  it('keeps 16 MB of lines, counts what comes after and says the number where they are missing', () => {
    const { writer } = writerWithFaults()
    disk(fullDisk)
    const mebibyte = 'x'.repeat(2 ** 20 - 3)
    for (let n = 0; n < 20; n++) fails(() => writer.comment(mebibyte))
    // The line that goes beyond 16 MB is the last that is kept: the 16th fills it.
    expect(writer.lost).toBe(3)
    disk({})
    writer.append('logger p1=1 1767225600000000000')
    writer.close()
    const lines = linesOf()
    expect([lines.length, writer.lost]).toEqual([18, 0])
    expect(lines.at(-1)).toMatch(
      /^mark,kind=gap lost=4,text="the disk took nothing: the 4 lines that came last before this were lost" \d{19}$/,
    )
  })

  it('tells a failed flush and flushes again, with no new line', () => {
    let flushes = 0
    const answers: ((error: Error | null) => void)[] = []
    const { writer, faults } = writerWithFaults()
    vi.advanceTimersByTime(10_000)
    disk({
      fdatasync(_: number, done: (error: Error | null) => void) {
        flushes++
        answers.push(done)
      },
    })
    writer.append('logger p1=1 1767225600000000000')
    vi.advanceTimersByTime(1100)
    expect(flushes).toBe(1)
    answers[0](failure('EIO'))
    expect([faults, writer.fault?.operation]).toEqual([['sync failed'], 'sync'])
    vi.advanceTimersByTime(2000)
    expect(flushes).toBe(2)
    answers[1](null)
    vi.advanceTimersByTime(10_000)
    expect([flushes, faults.length]).toEqual([2, 1])
    writer.close()
  })

  it('flushes at sync() what is not flushed yet, and nothing twice', () => {
    const { writer } = writerWithFaults()
    let flushes = 0
    disk({
      fdatasyncSync(file: number) {
        flushes++
        real.fdatasyncSync(file)
      },
    })
    writer.sync()
    expect(flushes).toBe(0)
    writer.append('logger p1=1 1767225600000000000')
    writer.sync()
    writer.sync()
    expect(flushes).toBe(1)
    vi.advanceTimersByTime(10_000)
    writer.close()
    expect(flushes).toBe(1)
  })

  it('keep(a line that throws) leaves nothing of it, and lines that waited are there', () => {
    const { writer } = writerWithFaults()
    writer.append('logger p1=1 1767225600000000000')
    const kept = () => {
      writer.append('logger p1=2 1767225601000000000')
      throw new Error('refused')
    }
    expect(() => writer.keep(kept)).toThrow('refused')
    expect(linesOf()).toEqual(['logger p1=1 1767225600000000000'])
    vi.advanceTimersByTime(5000)
    writer.close()
    expect(linesOf()).toEqual(['logger p1=1 1767225600000000000'])
    expect(() => writer.keep(kept)).toThrow('the recording is closed')
    expect(() => writer.append('logger p1=3 1767225602000000000')).toThrow('the recording is closed')
    expect(linesOf()).toEqual(['logger p1=1 1767225600000000000'])
  })

  it('waits for its folder: told once, and the recording begins with its header when the folder is there', () => {
    const home = join(folder, 'drive')
    path = join(home, 'a.lp')
    const faults: string[] = []
    const onFault = ({ code, operation }: RecordingFault) => faults.push(`${operation} ${code}`)
    expect(fails(() => openRecording(path, { clock, onFault })).code).toBe('no-folder')
    const writer = openRecording(path, { clock, onFault, waits: true })
    expect([faults, writer.sizeBytes]).toEqual([['open no-folder'], 0])
    expect(fails(() => writer.append('logger p1=1 1767225600000000000'))).toMatchObject({
      ...{ code: 'no-folder', operation: 'open' },
    })
    mkdirSync(home)
    writer.sync()
    writer.close()
    expect(readFileSync(path, 'utf8')).toBe('# stillhold recording 1\nlogger p1=1 1767225600000000000\n')
    rmSync(home, { recursive: true })
    const never = openRecording(path, { clock, waits: true })
    expect(fails(() => never.close())).toMatchObject({ code: 'no-folder', operation: 'open' })
  })
})

describe.skipIf(!existsSync('/proc/self/fd'))('open files (skipped without /proc)', () => {
  const openFiles = () =>
    readdirSync('/proc/self/fd').filter((fd) => {
      try {
        return readlinkSync(`/proc/self/fd/${fd}`).startsWith(folder)
      } catch {
        return false
      }
    }).length

  it('openRecording(another file) closes it, and close() closes a recording', () => {
    writeFileSync(path, 'shopping list\n')
    fails(() => openRecording(path, { clock }))
    expect(openFiles()).toBe(0)
    path = join(folder, 'b.lp')
    const { writer } = writerWithFaults()
    expect(openFiles()).toBe(1)
    writer.close()
    writer.close()
    syncFolder(folder)
    expect(openFiles()).toBe(0)
  })

  it('close() during a flush closes the file after it', () => {
    let answer: (error: Error | null) => void = () => {}
    const { writer, faults } = writerWithFaults()
    disk({
      fdatasync(_: number, done: (error: Error | null) => void) {
        answer = done
      },
    })
    writer.append('logger p1=1 1767225600000000000')
    vi.advanceTimersByTime(1100)
    writer.close()
    expect(openFiles()).toBe(1)
    answer(null)
    expect([openFiles(), faults]).toEqual([0, []])
  })
})

describe('DurableFile', () => {
  const open = () => new DurableFile(path, () => {}, String)

  it('replaceEnd() refuses to make a recording shorter', () => {
    writeFileSync(path, 'abcdef\n')
    const file = open()
    expect(() => file.replaceEnd(3, 'xyz')).toThrow(RangeError)
    expect(() => file.replaceEnd(3, 'xyz')).toThrow('the end of a recording may not shrink')
    file.replaceEnd(3, 'xyz\n')
    expect(readFileSync(path, 'utf8')).toBe('abcxyz\n')
    file.close()
  })

  it('read() gives what is there of what is asked, however little the system gives at a time', () => {
    writeFileSync(path, 'abcdef\n')
    const file = open()
    disk({
      readSync: (at: number, bytes: Buffer, offset: number, _: number, position: number) =>
        real.readSync(at, bytes, offset, 1, position),
    })
    expect(file.read(2, 100).toString()).toBe('cdef\n')
    expect(file.read(1, 3).toString()).toBe('bc')
    file.close()
    closeSync(real.openSync(path, 'r'))
  })
})

// POSIX and Linux error numbers; the remedy is what the user can do about each.
it.each([
  ['ENOSPC', 'disk-full', 'free some space'],
  ['EDQUOT', 'disk-full', 'quota'],
  ['EFBIG', 'disk-full', 'may not grow'],
  ['EROFS', 'read-only', 'read-only'],
  ['EACCES', 'no-permission', 'may not write'],
  ['EPERM', 'no-permission', 'may not write'],
  ['ENOENT', 'no-folder', 'make the folder'],
  ['ENOTDIR', 'no-folder', 'choose a folder'],
  ['EISDIR', 'not-a-recording', 'name a file in it'],
  ['EIO', 'failed', 'check the disk'],
])('recordingFault(%s) is %s, with the remedy "%s"', (errno, code, remedy) => {
  const cause = failure(errno)
  const fault = recordingFault(cause, 'write', '/media/a.lp')
  expect(fault).toMatchObject({
    name: 'RecordingFault',
    code,
    operation: 'write',
    path: '/media/a.lp',
    cause,
  })
  expect(fault.hint).toContain(remedy)
  expect(fault.message).toBe(`cannot write the recording /media/a.lp: ${errno}: of the disk; ${fault.hint}`)
  expect(recordingFault(fault, 'sync', 'b.lp')).toBe(fault)
  expect(recordingFault('torn out', 'sync', 'b.lp')).toMatchObject({ code: 'failed', operation: 'sync' })
})

it.each([
  ...['EISDIR', 'EPERM', 'EACCES', 'EINVAL', 'EBADF', 'ENOTSUP', 'ENOSYS'].map(
    (code) => [code, false] as const,
  ),
  ...['EIO', 'ENOSPC'].map((code) => [code, true] as const),
])(
  'syncFolder(a disk that answers %s) throws: %s; systems without folder sync answer the first seven',
  (code, throws) => {
    const failing = () => {
      throw failure(code)
    }
    for (const operation of [{ openSync: failing }, { fdatasyncSync: failing }]) {
      disk(operation)
      if (throws) expect(() => syncFolder(folder)).toThrow(code)
      else expect(() => syncFolder(folder)).not.toThrow()
    }
  },
)
