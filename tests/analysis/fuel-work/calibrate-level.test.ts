import { describe, expect, test } from 'vitest'
import { calibrateLevel } from '#analysis/fuel-work/calibrate-level.ts'
import { seededRandom } from '#ingest/simulator/random.ts'
import {
  type PlayedCalibration,
  playCalibration,
  senderChannel,
  senderTank,
  trueOhm,
} from './played-calibration.ts'

const eighths = { steps: 8, typed: [], readingStep: 0, unusable: null }
const calibrated = (options: Partial<PlayedCalibration> = {}, tank = senderTank) =>
  calibrateLevel([playCalibration(options)], senderChannel, tank, eighths)
const codes = (result: ReturnType<typeof calibrated>) => result.reasons.map(({ code }) => code)

describe('calibrateLevel known values', () => {
  test('calibrateLevel passes a played calibration and finds its table within the interval (played)', () => {
    const result = calibrated({ total: '75 L ± 0.1 L' })
    expect(result.verdict).toBe('pass')
    expect(result.steps_level.map(({ step }) => step)).toEqual([
      'empty',
      '1/8',
      '2/8',
      '3/8',
      '4/8',
      '5/8',
      '6/8',
      '7/8',
      'full',
    ])
    for (const step of result.steps_level) {
      expect(step.reading_low).toBeLessThan(trueOhm(step.usable_L))
      expect(step.reading_high).toBeGreaterThan(trueOhm(step.usable_L))
    }
    expect(result.reading_with_more_fuel).toBe('falls')
  })

  test('calibrateLevel finds the hysteresis that was played, 1.6 of 207 ohm', () => {
    expect(calibrated().hysteresis?.span_percent).toBeCloseTo((100 * 1.6) / 207, 0)
  })

  test('calibrateLevel takes the jug’s error out of the table by the known total (15 × 5.05 L against 75.75 L)', () => {
    const result = calibrated({ jugFactor: 1.01, jugTolerance: '2 %', total: '75.75 L ± 0.05 L' })
    expect(result.jug?.factor).toBeCloseTo(1.01, 3)
    expect(result.jug?.difference_L).toBeCloseTo(0.75, 6)
    expect(result.verdict).toBe('pass')
  })

  test('calibrateLevel counts from dry by the stated unusable fuel of 2.5 L', () => {
    const result = calibrated(
      { start: 'dry', pours: 16, total: '80 L ± 0.1 L' },
      { ...senderTank, capacityM3: 0.08 },
    )
    expect(result.points.find(({ direction }) => direction === 'up')?.usable_L).toBeCloseTo(-2.5, 6)
    expect(result.steps_level[0].usable_L).toBe(0)
    expect(codes(result)).toContain('zero-at-unusable')
  })
})

describe('calibrateLevel laws', () => {
  test('calibrateLevel covers the true reading at 95 of 100 steps or more over 60 played calibrations', () => {
    const random = seededRandom(77)
    let inside = 0
    let all = 0
    for (let seed = 1; seed <= 60; seed++) {
      // An error of half the stated tolerance in standard deviation: what the half width over √3 claims.
      const jugFactor = 1 + random.uniform(-0.01, 0.01)
      const result = calibrated({ seed, jugFactor, jugTolerance: '1 %', noiseOhm: 0.3 })
      for (const step of result.steps_level) {
        if (step.reading === null) continue
        all++
        const truth = trueOhm(step.usable_L)
        if (step.reading_low! <= truth && truth <= step.reading_high!) inside++
      }
    }
    expect(all).toBeGreaterThan(500)
    expect(inside / all).toBeGreaterThanOrEqual(0.95)
  })

  test('calibrateLevel gives readings that never turn from step to step (played)', () => {
    const readings = calibrated({ noiseOhm: 1.5 }).steps_level.flatMap(({ reading }) =>
      reading === null ? [] : [reading],
    )
    expect(readings).toEqual([...readings].sort((a, b) => b - a))
  })
})

describe('calibrateLevel refuses', () => {
  test('calibrateLevel leaves out a pour after which the float hung, as a reversal (played at pour 6)', () => {
    const { rejected, steps_level } = calibrated({ hangs: 6 })
    expect(rejected.map(({ code }) => code)).toEqual(['reversal'])
    expect(rejected[0].usable_L).toBeCloseTo(35, 6)
    expect(steps_level[4].reading_low).toBeLessThan(trueOhm(37.5))
  })

  test('calibrateLevel leaves out what the sender reads at its stop and says where it stops (played at 62 L)', () => {
    const result = calibrated({ stopL: 62 })
    expect(new Set(result.rejected.map(({ code }) => code))).toEqual(new Set(['flat-top']))
    expect(result.reads_up_to_L).toBeCloseTo(65, 6)
    expect(result.verdict).toBe('undecided')
    expect(result.steps_level.at(-1)?.reading).toBeNull()
  })

  test('calibrateLevel fails a sum that does not close: one of 15 pours unmarked (played)', () => {
    expect(codes(calibrated({ total: '80 L ± 0.2 L' }))).toContain('sum-does-not-close')
    expect(calibrated({ total: '80 L ± 0.2 L' }).verdict).toBe('fail')
  })

  test('calibrateLevel fails a placard above what the tank holds (83 L against 77.5 L)', () => {
    const result = calibrated({}, { ...senderTank, capacityM3: 0.083 })
    expect(result.verdict).toBe('fail')
    expect(codes(result)).toContain('placard-too-high')
  })

  test('calibrateLevel leaves open a zero that no mark places (14 CFR 23.1337(b)(1))', () => {
    const result = calibrated({ start: null })
    expect(result.verdict).toBe('undecided')
    expect(codes(result)).toContain('zero-not-shown')
  })

  test('calibrateLevel leaves open one direction alone: the hysteresis is not known', () => {
    expect(codes(calibrated({ down: false }))).toContain('one-direction')
    expect(calibrated({ down: false }).verdict).toBe('undecided')
  })

  test('calibrateLevel fails a sender with a bump of 29 % of its span at mid-scale, both ways', () => {
    const result = calibrated({ broken: (l) => (l >= 33 && l <= 42 ? l - 22 : l) })
    expect(codes(result)).toContain('sender-broken')
    expect(result.verdict).toBe('fail')
  })

  test('calibrateLevel fails a sender that sticks from 25 to 40 L both ways', () => {
    const result = calibrated({ broken: (l) => (l > 25 && l < 40 ? 25 : l) })
    expect(codes(result)).toContain('sender-stuck')
    expect(result.verdict).toBe('fail')
  })

  test.each([
    ['a pour of 10 L marked as 5', { doubled: 7, pours: 14 }],
    ['a pour marked twice', { markedTwice: 7, pours: 14 }],
  ])('calibrateLevel fails %s: the reading does not return when it is drained', (_, options) => {
    const result = calibrated(options)
    expect(codes(result)).toContain('loop-does-not-close')
    expect(result.verdict).toBe('fail')
  })

  test('calibrateLevel says that in and out agree where every pour was marked rightly (played)', () => {
    expect(codes(calibrated())).toContain('loop-closes')
  })

  test('calibrateLevel is void without a fill mark', () => {
    const recording = { ...playCalibration(), marks: [] }
    expect(calibrateLevel([recording], senderChannel, senderTank, eighths).verdict).toBe('void')
  })
})
