import { describe, expect, it } from 'vitest'
import { history } from '#analysis/hunt/history.ts'
import type { Evidence } from '#analysis/model/evidence.ts'
import { seededRandom } from '#ingest/simulator/random.ts'
import { wilsonInterval } from '#tests/wilson-interval.ts'
import { fitting, held, holdSpec, leak, marked, section, system } from './made-system.ts'

const plane = system(
  [section('feed', { volumeToleranceM3: 0 }), section('forward')],
  [fitting('F1', 'feed'), fitting('F2', 'forward')],
  [],
  [holdSpec('feed', ['feed'], []), holdSpec('forward', ['forward'], [])],
)
const week = 7 * 24 * 60
const std = 2e-9
/** One hold a week, measured with a normal error. */
const weekly = (leaks: readonly number[], noise: () => number, hold = 'feed'): Evidence[] =>
  leaks.map((molPerS, i) =>
    held(plane, hold, i * week, 'pass', [leak(hold, molPerS + std * noise(), std)], {
      record: `${hold}-${i}`,
    }),
  )

describe('history()', () => {
  it('lists the holds of a section by time with the work on it between them, and nothing of another section', () => {
    const evidence = [
      ...weekly([1e-8, 1e-8], () => 0),
      ...weekly([5e-8], () => 0, 'forward'),
      marked('work', 'F1', week / 2, { action: 'remake' }),
      marked('work', 'F2', week / 2, { action: 'replace' }),
    ]
    const holds = history(plane, evidence.reverse(), 'feed')
    expect(holds.map((h) => [h.record, h.work.map((w) => `${w.action} ${w.on}`)])).toEqual([
      ['feed-0', []],
      ['feed-1', ['remake F1']],
    ])
    expect(history(plane, evidence).map((h) => h.section)).toEqual(['feed', 'feed', 'forward'])
  })

  it('tells a leak that grows by 6 standard errors once, in the hold where it grew, and that it fell after the work', () => {
    const random = seededRandom(7, 1)
    const leaks = [...Array(8).fill(1e-8), ...Array(5).fill(1e-8 + 8 * std), ...Array(4).fill(1e-8)]
    const told = history(
      plane,
      weekly(leaks, () => random.normal()),
      'feed',
    ).flatMap((h, i) => (h.change && h.change.changed !== 'not-shown' ? [[i, h.change.changed]] : []))
    expect(told).toEqual([
      [8, 'more'],
      [13, 'less'],
    ])
  })

  it('tells a change of 2.03 standard errors of a difference (4.2 %), not one of 1.88 (6 %), in the first comparison (normal table)', () => {
    const told = (errors: number) =>
      history(
        plane,
        weekly([1e-8, 1e-8 + errors * Math.SQRT2 * std], () => 0),
        'feed',
      )[1].change?.changed
    expect([told(2.034), told(1.881), told(-2.034)]).toEqual(['more', 'not-shown', 'less'])
  })

  it('counts only what it compares: five void holds before do not hide a change of 2.034 standard errors', () => {
    const voids = Array.from({ length: 5 }, (_, n) =>
      held(plane, 'feed', (n - 6) * week, 'void', [leak('feed', 0, std)], { record: `void-${n}` }),
    )
    const [before, after] = weekly([1e-8, 1e-8 + 2.034 * Math.SQRT2 * std], () => 0)
    expect(history(plane, [...voids, before, after], 'feed').at(-1)?.change?.changed).toBe('more')
  })

  it('tells a change in at most 5 % of steady histories of 20 holds (300 seeded, by its own claim)', () => {
    const random = seededRandom(11, 1)
    const false_ = Array.from({ length: 300 }, () =>
      weekly(Array(20).fill(1e-8), () => random.normal()),
    ).filter((evidence) =>
      history(plane, evidence, 'feed').some((h) => h.change && h.change.changed !== 'not-shown'),
    ).length
    expect(wilsonInterval(false_, 300)[0]).toBeLessThanOrEqual(0.05)
  })

  it('compares nothing with a void hold', () => {
    const evidence = [
      held(plane, 'feed', 0, 'void', [leak('feed', 9e-7, std)], { record: 'void' }),
      held(plane, 'feed', week, 'pass', [leak('feed', 1e-8, std)], { record: 'pass' }),
    ]
    expect(history(plane, evidence, 'feed').map((h) => h.change)).toEqual([null, null])
  })
})
