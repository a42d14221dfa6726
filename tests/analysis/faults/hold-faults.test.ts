import { readFileSync } from 'node:fs'
import { describe, expect, test } from 'vitest'
import type { ChannelSamples, Mark, Recording } from '#analysis/model/samples.ts'
import type { System } from '#analysis/model/system.ts'
import { analyzeRecording } from '#analysis/verdict/analyze-recording.ts'
import { readRecording } from '#ingest/recording/read-recording.ts'
import { systemFromFile } from '#ingest/system-file/read-system-file.ts'

const folder = new URL('../../../recordings/', import.meta.url)
const text = (name: string) => readFileSync(new URL(name, folder), 'utf8')
const system = systemFromFile(text('floatplane.yaml'), 'floatplane.yaml')
/** A tight hold: hold stage from 244 s to 844 s. */
const tight = readRecording(text('lines-retest.lp'), system, 'lines-retest.lp')

function resultOf(recording: Recording, of: System = system, live = false) {
  const [analysis] = analyzeRecording(recording, of, { hold: 'feed-lines-10psi', live })
  return { verdict: analysis.result.verdict, codes: analysis.result.reasons.map(({ code }) => code) }
}

function changed(
  channel: string,
  change: (value: number, timeS: number, before: number) => number,
): Recording {
  return {
    ...tight,
    channels: tight.channels.map((c): ChannelSamples => {
      if (c.channel !== channel) return c
      let before = Number.NaN
      const reading = c.reading.map((value, i) => {
        before = change(value, c.timeS[i], before)
        return before
      })
      return { ...c, reading }
    }),
  }
}

function kept(keep: (timeS: number) => boolean): Recording {
  return {
    ...tight,
    channels: tight.channels.map((c) => {
      const index = [...c.timeS.keys()].filter((i) => keep(c.timeS[i]))
      return {
        ...c,
        timeS: Float64Array.from(index, (i) => c.timeS[i]),
        reading: Float64Array.from(index, (i) => c.reading[i]),
      }
    }),
  }
}

function marked(kind: Mark['kind'], timeS: number, id: string | null, fields: Mark['fields']): Recording {
  const timeNs = String(BigInt(tight.startNs) + BigInt(timeS) * 1_000_000_000n)
  const mark: Mark = { timeNs, timeS, kind, id, hold: null, fields }
  return { ...tight, marks: [...tight.marks, mark].sort((a, b) => a.timeS - b.timeS) }
}

const inHold = (t: number) => t >= 244 && t <= 844
const psi = 6894.757293168

const voids: readonly [what: string, code: string, recording: Recording, system?: System][] = [
  [
    'the gauge repeats one number from the settle on',
    'no-vent-response',
    changed('p-lines', (p, t, b) => (t > 200 ? b : p)),
  ],
  [
    'the gauge hangs for 100 s of the hold',
    'gauge-stuck',
    changed('p-lines', (p, t, b) => (t > 400 && t < 500 ? b : p)),
  ],
  ['the gauge never leaves zero', 'no-pump-up-response', changed('p-lines', (p, t, b) => (t > 15 ? b : p))],
  [
    'the gauge is shut off before the vent',
    'no-vent-response',
    changed('p-lines', (p, t, b) => (t > 843 ? b : p)),
  ],
  [
    'the gauge reads the upper end of its span',
    'clipped',
    changed('p-lines', (p, t) => (inHold(t) ? 30 * psi : p)),
  ],
  ['the plug is pulled in the hold', 'clipped', changed('p-lines', (p, t) => (t > 500 ? 0 : p))],
  ['half the test pressure is reached', 'pressure-not-reached', changed('p-lines', (p) => 0.6 * p)],
  ['the logger is silent for 150 s', 'samples-missing', kept((t) => t < 400 || t > 550)],
  ['the last 70 s are missing', 'samples-missing', kept((t) => t < 770 || t > 845)],
  ['one reading a minute', 'too-few-samples', kept((t) => !inHold(t) || Math.round(t) % 60 === 0)],
  [
    'the recording ends in the hold',
    'vent-not-recorded',
    { ...kept((t) => t < 840), marks: tight.marks.filter((m) => m.timeS < 840) },
  ],
  [
    'a fitting of the section is retightened in the hold',
    'work-during-hold',
    marked('work', 500, 'F12', { action: 'retighten' }),
  ],
  ['a valve is opened in the hold', 'valve-moved', marked('valve', 500, 'V1', { open: true })],
  ['a valve to be shut was marked open', 'valve-open', marked('valve', 100, 'V1', { open: true })],
  ['a plug is taken out in the hold', 'plug-moved', marked('plug', 500, 'P1', { in: false })],
  ['the clock is marked as set in the hold', 'clock-jumped', marked('clock', 500, null, { seconds: 12 })],
  ['no thermometer and an allowance that needs one', 'no-temperature', changed('t-lines', () => Number.NaN)],
  [
    'no gauge of the section',
    'section-not-measured',
    { ...tight, channels: tight.channels.filter((c) => c.channel !== 'p-lines') },
  ],
  [
    'the supply keeps the pressure up',
    'pressure-held-up',
    readRecording(text('void-regulator-left-on.lp'), system, 'r'),
  ],
  ['gas comes in', 'pressure-rose', readRecording(text('void-pressure-rose.lp'), system, 'r')],
]

describe('analyzeRecording voids a hold that would otherwise pass (tight demo hold, one thing changed)', () => {
  test('unchanged it passes', () => expect(resultOf(tight).verdict).toBe('pass'))
  test.each(voids)('%s: %s', (_, code, recording, of) => {
    const { verdict, codes } = resultOf(recording, of)
    expect(codes).toContain(code)
    expect(verdict).toBe('void')
  })
  test('work on a fitting of another section does not disturb it', () =>
    expect(resultOf(marked('work', 500, 'F01', { action: 'reseal' })).verdict).toBe('pass'))
  test('a sealant that still cures when the hold begins at 244 s blocks the pass, an unread cure time too; a cured one does not', () => {
    const resealed = (cure: string | number, id = 'F12') =>
      resultOf(marked('work', 4, id, { action: 'reseal', cure }))
    expect(resealed('3 min').codes).not.toContain('sealant-curing')
    for (const cure of ['5 min', '24 h', 'a day', 24]) {
      expect(resealed(cure).verdict).toBe('void')
      expect(resealed(cure).codes).toContain('sealant-curing')
    }
    expect(resealed('24 h', 'F01').verdict).toBe('pass')
  })
  test('a look at a running hold expects no vent', () => {
    const running = { ...kept((t) => t < 840), marks: tight.marks.filter((m) => m.timeS < 840) }
    expect(resultOf(running, system, true).codes).not.toContain('vent-not-recorded')
  })
  test('a leak that shows stays a fail without the vent', () => {
    const lines = text('lines-leak.lp').split('\n').slice(0, 840).join('\n')
    expect(resultOf(readRecording(`${lines}\n`, system, 'cut')).verdict).toBe('fail')
  })
})

describe('readRecording tells where the clock was set back, and the hold is void', () => {
  const setBack = (seconds: number) =>
    text('lines-retest.lp')
      .split('\n')
      .map((line) => {
        const [, head, stamp] = /^(logger .*) (\d+)$/.exec(line) ?? []
        if (stamp === undefined || BigInt(stamp) < BigInt(tight.startNs) + 500_000_000_000n) return line
        return `${head} ${BigInt(stamp) - BigInt(seconds) * 1_000_000_000n}`
      })
      .join('\n')
  test('by 40 s in the middle of the hold', () => {
    const read = readRecording(setBack(40), system, 'back')
    expect(read.clockJumps?.[0].seconds).toBeCloseTo(-39, 0)
    expect(resultOf(read).codes).toContain('clock-jumped')
  })
  test('a file in order has no jump', () =>
    expect(readRecording(setBack(0), system, 'x').clockJumps).toBeUndefined())
})

describe('analyzeRecording on recordings cut at a line', () => {
  test.each(['lines-retest.lp', 'lines-no-stage-marks.lp', 'tank-sun.lp'])(
    '%s never passes before its vent',
    (file) => {
      const lines = text(file).split('\n')
      for (let n = 37; n < lines.length - (file === 'tank-sun.lp' ? 50 : 48); n += 171) {
        const cut = readRecording(`${lines.slice(0, n).join('\n')}\n`, system, file)
        for (const { result } of analyzeRecording(cut, system)) {
          expect(result.verdict, `cut at line ${n}`).not.toBe('pass')
          expect(JSON.stringify(result)).not.toMatch(/NaN|Infinity/)
        }
      }
    },
  )
})

describe('analyzeRecording takes any readings without an exception and without a figure that is none', () => {
  const hostile: readonly [string, (p: number, t: number) => number][] = [
    ['missing', () => Number.NaN],
    ['constant', () => 5e4],
    ['huge', (p) => p * 1e12],
    ['infinite', () => Number.POSITIVE_INFINITY],
    ['below vacuum', (p) => -3 * p],
    ['alternating', (p, t) => (Math.round(t) % 2 === 0 ? p : -p)],
  ]
  test.each(hostile)('pressure %s', (_, change) => {
    for (const { result } of analyzeRecording(changed('p-lines', change), system)) {
      expect(result.verdict).not.toBe('pass')
      expect(JSON.stringify(result)).not.toMatch(/NaN|Infinity/)
      expect(Object.values(result.allowance).every(Number.isFinite)).toBe(true)
    }
  })
  test.each([0, 1, 2, 9])('%i samples in all', (count) => {
    const few = {
      ...tight,
      channels: tight.channels.map((c) => ({
        ...c,
        timeS: c.timeS.slice(0, count),
        reading: c.reading.slice(0, count),
      })),
    }
    for (const { result } of analyzeRecording(few, system)) expect(result.verdict).toBe('void')
  })
})

test('a coarse gauge that stands still in the hold is alive when it falls slowly at the vent', () => {
  const stepPa = (30 * psi) / 1024
  const falls = (t: number) => 10 * psi * Math.exp(-Math.max(0, t - 844) / 12)
  const coarse = (t: number, pumped: number) => Math.round((t < 64 ? pumped : falls(t)) / stepPa) * stepPa
  expect(resultOf(changed('p-lines', (p, t) => coarse(t, p))).codes).not.toContain('gauge-stuck')
})

describe('a look that found a leak under pressure', () => {
  const seen = (finding: string, timeS = 500, id = 'F12') => resultOf(marked('look', timeS, id, { finding }))

  test.each(['bubbles', 'seep', 'drip'])('%s: a caution beside the verdict', (finding) => {
    const { verdict, codes } = seen(finding)
    expect(verdict).toBe('pass')
    expect(codes).toContain('leak-seen')
  })
  test.each([
    ['dry', seen('dry')],
    ['before pump-up', seen('bubbles', 10)],
    ['at the vent', seen('bubbles', 850)],
    ["another section's", seen('bubbles', 500, 'F01')],
  ])('%s: none', (_, { codes }) => expect(codes).not.toContain('leak-seen'))
  test('a fitting that the file does not have may be one of them', () =>
    expect(seen('bubbles', 500, 'F99').codes).toContain('leak-seen'))
})
