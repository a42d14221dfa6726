import { expect, it } from 'vitest'
import { readRecording } from '#ingest/recording/read-recording.ts'
import { recordingHeader } from '#ingest/recording/recording-header.ts'
import { readSystemFile } from '#ingest/system-file/read-system-file.ts'
import { contractSystem } from './contract-system.ts'

const system = readSystemFile(contractSystem, 'aircraft.yaml').system!

const at = (n: number) => 1767225600000000000n + BigInt(n) * 1_000_000_000n
const line = (n: number) => `logger,port=a p1=10,t1=20 ${at(n)}`
const damageOf = (...lines: string[]) => readRecording(lines.join('\n'), system, 'a.lp').damage

it('readRecording(one unreadable line of a recording) reports line, count and the time of the previous point', () => {
  expect(damageOf(recordingHeader, line(0), line(3), 'logger,port=a p1=1', line(4), 'half', '')).toEqual({
    line: 4,
    lines: 2,
    afterS: 3,
  })
})

it('readRecording(damage after a mark) places it after the mark, to the fraction of a second', () => {
  const mark = `mark,kind=stage name="vent" ${at(3) + 250_000_000n}`
  expect(damageOf(recordingHeader, line(0), line(3), mark, 'half', line(4), '')).toMatchObject({
    afterS: 3.25,
  })
})

it('readRecording(damage before the first point) places it after no time', () => {
  expect(damageOf(recordingHeader, '\0\0\0', line(0), '')?.afterS).toBe(Number.NEGATIVE_INFINITY)
})

it('readRecording(a comment with a control character) tells its line and the column of the character', () => {
  const text = [recordingHeader, line(0), '# said\0', line(1), ''].join('\n')
  expect(readRecording(text, system, 'a.lp').problems[0]).toEqual({
    ...{ code: 'refused-line', line: 3 },
    message: 'column 7: control character in a comment',
  })
})

it('readRecording(a comment with zeros) is damage: the lines merged into it are not a comment', () => {
  expect(damageOf(recordingHeader, line(0), `# said\0\0${line(1)}`, '')).toMatchObject({ line: 3, lines: 1 })
})

it.each(['\0', '\x08', '\x0b', '\x0c', '\x0e', '\x1f', '\x7f'])(
  'readRecording(%j in a line or a comment) is damage: it is written escaped (docs/formats/recording.md)',
  (control) => {
    expect(damageOf(line(0), `log${control}`, line(1), '')).toMatchObject({ line: 2 })
    expect(damageOf(recordingHeader, line(0), `# said${control}`, '')).toMatchObject({ line: 3, lines: 1 })
  },
)

it.each(['\t', '\r', ' ', '~', '\u0080'])(
  'readRecording(%j in a line or at the end of a comment) is text, not damage',
  (text) => {
    expect(damageOf(line(0), `log${text}x`, line(1), '')).toBeUndefined()
    expect(damageOf(recordingHeader, line(0), `# said${text}`, '')).toBeUndefined()
  },
)

it('readRecording(bytes rejected on arrival) is not damage: the bytes are kept', () => {
  expect(damageOf(recordingHeader, line(0), '#! cut line: logger p1=1\\x00', line(1), '')).toBeUndefined()
})

it('readRecording(samples of another program) counts a garbled line as a missing sample, but not zeros, nor with marks', () => {
  expect(damageOf(line(0), 'loggr p1', line(1), '')).toBeUndefined()
  expect(damageOf(line(0), 'log\0\0\0', line(1), '')).toMatchObject({ line: 2 })
  expect(damageOf(line(0), 'loggr p1', `mark,kind=note text="a" ${at(1)}`, '')).toMatchObject({ line: 2 })
})
