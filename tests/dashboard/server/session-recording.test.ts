import { mkdirSync, mkdtempSync, readdirSync, readFileSync, rmSync, writeFileSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { afterEach, beforeEach, expect, it } from 'vitest'
import { SessionRecording } from '#dashboard/server/session/session-recording.ts'

let there: string
let folder: string
beforeEach(() => {
  there = mkdtempSync(join(tmpdir(), 'stillhold-test-'))
  folder = join(there, 'session')
})
afterEach(() => rmSync(there, { recursive: true, force: true }))

const timeNs = (n: number) => 1767225600000000000n + BigInt(n) * 1_000_000n
const lineOf = (n: number) => `logger n=${n}i,p1=10.125 ${timeNs(n)}`

/** Numbers of the lines kept, and what stands among them that is no line of the logger's. */
function kept(): { files: number; numbers: number[]; others: string[] } {
  const files = readdirSync(folder).sort()
  const lines = files.flatMap((name) => readFileSync(join(folder, name), 'utf8').trimEnd().split('\n'))
  const numbers = lines.flatMap((line) => /^logger n=(\d+)i/.exec(line)?.[1] ?? []).map(Number)
  return { files: files.length, numbers, others: lines.filter((line) => /^(mark|#!)/.test(line)) }
}

it('line(…) while no file can be made waits for one: nothing is lost, told once and in trouble meanwhile', () => {
  const recording = new SessionRecording(folder)
  const told: string[] = []
  recording.onTrouble = (message) => told.push(message)
  for (let n = 0; n < 500; n++) recording.line(lineOf(n))
  recording.mark({ kind: 'note', fields: { text: 'meanwhile' } }, timeNs(500))
  recording.reject('half line', Buffer.from('p1=10.'))
  expect(told).toHaveLength(1)
  expect(recording.trouble).toContain('make the folder first')
  expect(recording.name).toMatch(/^bench-.*\.lp$/)
  expect(() => recording.sync()).toThrow(/cannot open the recording/)
  mkdirSync(folder)
  recording.sync()
  expect(recording.trouble).toBeNull()
  for (let n = 500; n < 600; n++) recording.line(lineOf(n))
  recording.close()
  expect(recording.trouble).toBeNull()
  const { files, numbers, others } = kept()
  expect(files).toBe(1)
  expect(numbers).toEqual(Array.from({ length: 600 }, (_, n) => n))
  expect(others).toEqual([`mark,kind=note text="meanwhile" ${timeNs(500)}`, '#! half line: p1=10.'])
})

it('line(…) of 16 MB beyond what may wait is counted, told and a gap mark behind what was kept', () => {
  const recording = new SessionRecording(folder)
  const large = 'x'.repeat(1 << 20)
  for (let n = 0; n < 20; n++) recording.comment(large)
  for (let n = 0; n < 30; n++) recording.line(lineOf(n))
  const [, lost] = /; (\d+) lines are lost so far/.exec(recording.trouble ?? '') ?? []
  // The header and sixteen comments pass the bound: four more and the lines find no room.
  expect(Number(lost)).toBe(34)
  mkdirSync(folder)
  recording.sync()
  recording.line(lineOf(7))
  recording.close()
  const { numbers, others } = kept()
  expect(numbers).toEqual([7])
  expect(others).toHaveLength(1)
  expect(others[0]).toMatch(
    /^mark,kind=gap lost=34,text="the disk took nothing: the 34 lines .* were lost" \d{19}$/,
  )
})

it('rotate() while no file can be made parts what waits all the same: a hold keeps a recording of its own', async () => {
  const recording = new SessionRecording(folder)
  recording.line(lineOf(0))
  const name = recording.rotate()
  expect(recording.name).toBeNull()
  // File names tell milliseconds.
  await new Promise((resolve) => setTimeout(resolve, 5))
  recording.line(lineOf(1))
  expect(recording.name).not.toBe(name)
  mkdirSync(folder)
  recording.sync()
  recording.line(lineOf(2))
  recording.close()
  expect(kept()).toMatchObject({ files: 2, numbers: [0, 1, 2] })
  expect(readFileSync(join(folder, name!), 'utf8')).toBe(`# stillhold recording 1\n${lineOf(0)}\n`)
})

it('close() with lines that found no place on the disk leaves the trouble to be told', () => {
  const recording = new SessionRecording(folder)
  writeFileSync(folder, 'a file where the folder should be')
  for (let n = 0; n < 3; n++) recording.line(lineOf(n))
  recording.close()
  expect(recording.trouble).toContain('a part of the path is a file')
})

it('line(…) writes an ended file too that could not be made in time, without being asked to', async () => {
  const recording = new SessionRecording(folder)
  recording.line(lineOf(0))
  recording.rotate()
  await new Promise((resolve) => setTimeout(resolve, 5))
  recording.line(lineOf(1))
  mkdirSync(folder)
  for (let n = 2; kept().files < 2; n++) {
    recording.line(lineOf(n))
    await new Promise((resolve) => setTimeout(resolve, 20))
  }
  expect(kept().numbers.slice(0, 2)).toEqual([0, 1])
  expect(recording.trouble).toBeNull()
  recording.close()
})

it('keep(…) while no file can be made takes nothing; what is given again stands there once', () => {
  const recording = new SessionRecording(folder)
  const give = () => {
    for (let n = 0; n < 10; n++) recording.line(lineOf(n))
  }
  expect(() => recording.keep(give)).toThrow(/cannot open the recording/)
  mkdirSync(folder)
  recording.keep(give)
  expect(kept().numbers).toEqual(Array.from({ length: 10 }, (_, n) => n))
  recording.close()
})

it('line(…) across a jump of the computer clock tells it, until the file ends', () => {
  mkdirSync(folder)
  const recording = new SessionRecording(folder)
  const told: number[] = []
  recording.onClockJump = (seconds) => told.push(seconds)
  const wallNs = timeNs(0)
  recording.line(lineOf(0), { wallNs, monotonicNs: 0n })
  recording.line(lineOf(1), { wallNs: wallNs + 1_000_000_000n, monotonicNs: 1_000_000_000n })
  expect(recording.clockJump).toBeNull()
  recording.line(lineOf(2), { wallNs: wallNs + 42_000_000_000n, monotonicNs: 2_000_000_000n })
  expect(told).toEqual([40])
  expect(recording.clockJump?.seconds).toBe(40)
  recording.rotate()
  expect(recording.clockJump).toBeNull()
  expect(kept().others.join()).toContain('mark,kind=clock jump_s=40')
})
