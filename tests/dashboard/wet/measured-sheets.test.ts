import { readFileSync } from 'node:fs'
import { describe, expect, test } from 'vitest'
import { parse } from 'yaml'
import { judgeWork } from '#analysis/fuel-work/judge-work.ts'
import { flowFields, flowRunFields } from '#analysis/fuel-work/sheet-fields.ts'
import type { Surroundings } from '#analysis/fuel-work/wet-sheet.ts'
import { seededRandom } from '#ingest/simulator/random.ts'
import { readSystemFile } from '#ingest/system-file/read-system-file.ts'

const wet = new URL('../../../recordings/wet/', import.meta.url)
const system = readSystemFile(
  readFileSync(new URL('floatplane-wet.yaml', wet), 'utf8'),
  'floatplane-wet.yaml',
).system!
const sheet = (name: string) => parse(readFileSync(new URL(`${name}.yaml`, wet), 'utf8'))
const around: Surroundings = {
  recording: () => {
    throw new Error('no recording is read')
  },
  holdVerdict: () => null,
  sealedStages: () => [],
  nowNs: () => 0n,
  stampsCount: false,
}
const level = (changes: object) =>
  judgeWork('level', { ...sheet('right-panel'), ...changes }, system, around)[0].result
const codes = (changes: object) => level(changes).reasons.map(({ code }) => code)

describe('a level gauge typed from the panel', () => {
  test('judgeWork(level) passes the demo sheet with a table at its uneven marks (demo data)', () => {
    const { verdict, steps_level, unusable_L } = level({})
    expect([verdict, unusable_L]).toEqual(['pass', 1.4])
    expect(steps_level.map(({ step }) => step)).toEqual(['empty', '10 L', '20 L', '40 L', 'full'])
  })

  test('judgeWork(level) covers the true reading at 95 of 100 marks or more, read to a whole liter (60 played panels)', () => {
    const random = seededRandom(9)
    const truth = (fuel: number, bend: number) => fuel + bend * Math.sin(fuel / 12)
    let [inside, all] = [0, 0]
    for (let played = 0; played < 60; played++) {
      const bend = random.uniform(-2, 2)
      const fuels = Array.from({ length: 14 }, (_, i) => 5 * i)
      const at = (fuel: number) => Math.round(truth(fuel, bend))
      const up = fuels.slice(1).map((f) => ({ volume: '5 L ± 0.2 %', attitude: 'level', reading: at(f) }))
      const down = fuels
        .slice(0, -1)
        .reverse()
        .map((f) => ({ volume: '5 L ± 0.2 %', direction: 'down', attitude: 'level', reading: at(f) }))
      const points = [{ start: 'unusable', attitude: 'level', reading: at(0) }, ...up, ...down]
      for (const step of level({ points, steps: [12, 25, 33, 47].map((l) => `${l} L`) }).steps_level) {
        if (step.reading === null) continue
        all++
        const is = truth(step.usable_L, bend)
        if (step.reading_low! <= is && is <= step.reading_high!) inside++
      }
    }
    expect(all).toBeGreaterThan(250)
    expect(inside / all).toBeGreaterThanOrEqual(0.95)
  })

  test('judgeWork(level) subtracts the unusable fuel found where it began dry, and fails where more is unusable than stated (14 CFR 23.959)', () => {
    const [first, ...rest] = sheet('right-panel').points
    const dry = [{ ...first, start: 'dry' }, ...rest]
    expect(level({ points: dry }).points[0].usable_L).toBeCloseTo(-1.4, 6)
    expect(codes({ 'unusable-found': '2.3 L ± 0.1 L' })).toContain('unusable-above-stated')
    expect(level({ 'unusable-found': '2.3 L ± 0.1 L' }).verdict).toBe('fail')
    expect(codes({ 'unusable-how': null })).toContain('unusable-how-not-stated')
  })

  test('judgeWork(level) leaves a mark open that the panel cannot tell from the next: 30 and 31 L read to a liter', () => {
    expect(level({ steps: ['10 L', '30 L', '31 L', '50 L'] }).verdict).toBe('undecided')
  })

  test.each([
    [{ 'reading-step': 0 }, 'reading-step must be above zero'],
    [{ unit: null }, 'unit is missing'],
    [{ steps: ['20 L', '10 L'] }, 'steps is a list of rising amounts'],
    [{ steps: 1 }, 'steps is neither a whole number'],
    [{ points: [] }, 'is not known'],
    [{ points: [{ attitude: 'level', reading: 1 }] }, 'point 1: volume : no volume'],
  ])('judgeWork(level) refuses %j in one line', (changes, said) => {
    const judge = () => level({ 'unusable-found': null, 'unusable-how': null, ...changes })
    if (said === 'is not known') expect(judge).toThrow(/channel|level sheet/)
    else expect(judge).toThrow(said)
  })
})

test('every entry of the demo flow sheet is a field with words for page and paper, and a run of a pump not named is refused', () => {
  const { runs, omitted: _, ...own } = sheet('flow')
  expect(Object.keys(own).filter((key) => !(key in flowFields))).toEqual([])
  for (const run of runs) expect(Object.keys(run).filter((key) => !(key in flowRunFields))).toEqual([])
  const judge = () =>
    judgeWork('flow', { ...sheet('flow'), pumps: ['boost pump'], omitted: [] }, system, around)
  expect(judge()[0].result.missing).toEqual([])
  expect(() => judgeWork('flow', { ...sheet('flow'), pumps: ['engine pump'] }, system, around)).toThrow(
    'pumps does not name boost pump',
  )
})
