import { readFileSync } from 'node:fs'
import { describe, expect, it } from 'vitest'
import type { SectionLeak } from '#analysis/model/hold-result.ts'
import type { Mark, MarkKind } from '#analysis/model/samples.ts'
import { analyzeRecording } from '#analysis/verdict/analyze-recording.ts'
import { SessionMarks } from '#dashboard/server/session/session-marks.ts'
import { IdleRecording } from '#dashboard/server/session/session-recording.ts'
import { readRecording } from '#ingest/recording/read-recording.ts'
import { systemFromFile } from '#ingest/system-file/read-system-file.ts'

const hourS = 3600
const demoText = (name: string) =>
  readFileSync(new URL(`../../../recordings/${name}`, import.meta.url), 'utf8')

/** A recording that grows by so many bytes a second, and which files it came to. */
function bench(bytesPerS: number) {
  const marks = new SessionMarks()
  const files: string[][] = [[]]
  let beganS = 0
  let nowS = 0
  const recording = {
    get sizeBytes() {
      return (nowS - beganS) * bytesPerS
    },
    rotate() {
      files.push([])
      beganS = nowS
      return null
    },
    mark({ kind }: { kind: MarkKind }, timeNs: bigint) {
      files.at(-1)!.push(`${kind} at ${timeNs} ns`)
    },
  }
  const idle = new IdleRecording(recording, marks)
  return {
    files,
    mark(kind: MarkKind, fields: Mark['fields'] = {}) {
      marks.add({ timeNs: String(nowS), timeS: nowS, kind, id: 'F1', hold: null, fields })
    },
    pass(seconds: number, lastHoldEndedS = Number.NEGATIVE_INFINITY) {
      for (const untilS = nowS + seconds; nowS < untilS; ) {
        nowS += 5
        idle.endWhenOld(nowS, lastHoldEndedS)
      }
    },
    endHold() {
      recording.rotate()
      return nowS
    },
  }
}

describe('IdleRecording.endWhenOld(time)', () => {
  it('ends a recording without a hold each half hour', () => {
    const own = bench(1000)
    own.pass(3 * hourS)
    expect(own.files).toHaveLength(7)
  })

  it('keeps what was done by hand in one file with the hold that comes after it', () => {
    const own = bench(1000)
    own.pass(600)
    own.mark('work', { action: 'remake' })
    own.pass(17 * hourS)
    expect(own.files).toHaveLength(1)
  })

  it('does so at a fast logger too by writing it at the head of the next file, for as long as it takes', () => {
    const own = bench(100_000)
    own.pass(600)
    // What people do at the bench (docs/formats/recording.md).
    const kinds = ['valve', 'work', 'look', 'zero', 'plug', 'fill', 'stroke', 'correction', 'note'] as const
    for (const kind of kinds) own.mark(kind, { action: 'remake' })
    own.pass(3 * hourS)
    expect(own.files).toHaveLength(7)
    for (const file of own.files.slice(1)) expect(file).toEqual(kinds.map((kind) => `${kind} at 600 ns`))
  })

  it('keeps work that goes on in one file, however large: a tank is filled step by step', () => {
    const own = bench(100_000)
    for (let step = 0; step < 12; step++) {
      own.mark('fill', { volume: '5 L' })
      own.pass(1200)
    }
    expect(own.files).toHaveLength(1)
    own.pass(1200)
    expect(own.files).toHaveLength(2)
  })

  it('does not hold a file open for what the program notes itself', () => {
    const own = bench(1000)
    own.pass(600)
    own.mark('note', { port: 'bench', text: 'bench sends csv' })
    own.mark('gap', { seconds: 3 })
    own.mark('fault', { code: 'silent' })
    own.mark('clock', { seconds: 7 })
    own.pass(3 * hourS)
    expect(own.files).toHaveLength(7)
  })

  it('ends recordings after a hold as before it, and carries nothing over from before the hold', () => {
    const own = bench(1000)
    own.pass(600)
    own.mark('work', { action: 'remake' })
    own.pass(600)
    own.mark('stage', { name: 'end' })
    const endedS = own.endHold()
    own.pass(3 * hourS, endedS)
    expect(own.files).toHaveLength(8)
    expect(own.files.flat()).toEqual([])
  })

  it('goes on when the clock was set back', () => {
    const marks = new SessionMarks()
    let ended = 0
    const recording = { sizeBytes: 0, rotate: () => String(ended++), mark: () => undefined }
    const idle = new IdleRecording(recording, marks)
    for (let s = 0; s < 1000; s += 5) idle.endWhenOld(50_000 + s, Number.NEGATIVE_INFINITY)
    for (let s = 0; s < 2 * hourS; s += 5) idle.endWhenOld(s, Number.NEGATIVE_INFINITY)
    expect(ended).toBe(4)
  })
})

describe('a recording with marks at its head from hours before', () => {
  const system = systemFromFile(demoText('floatplane.yaml'), 'floatplane.yaml')
  const text = demoText('lines-retest.lp')
  const firstNs = BigInt(/ (\d{19})$/m.exec(text)![1])
  const result = (lines: string) =>
    analyzeRecording(readRecording(lines, system, 'lines-retest.lp'), system)[0].result

  it('gives the verdict and the figures of the same recording without them', () => {
    const earlier = [
      `mark,kind=look,id=F07 finding="dry" ${firstNs - 7_200_000_000_000n}`,
      `mark,kind=work,id=F07 action="retighten" ${firstNs - 7_000_000_000_000n}`,
      `mark,kind=note text="swept the floor" ${firstNs - 6_900_000_000_000n}`,
    ]
    const [header, ...rest] = text.split('\n')
    const [plain, headed] = [result(text), result([header, ...earlier, ...rest].join('\n'))]
    expect(plain.verdict).toBe('pass')
    expect(headed.verdict).toBe('pass')
    expect(headed.stages).toEqual(plain.stages)
    const drops = [plain, headed].map(({ leak }) => (leak as SectionLeak).drop_Pa)
    expect(drops[1].value).toBeCloseTo(drops[0].value, 3)
    expect(drops[1].high).toBeCloseTo(drops[0].high, 3)
  })
})
