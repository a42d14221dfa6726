import { describe, expect, it, test } from 'vitest'
import { compareHolds } from '#analysis/hunt/compare.ts'
import { zerosOfHold } from '#analysis/hunt/gauge-drift.ts'
import { hunt } from '#analysis/hunt/hunt.ts'
import { screwLimitNm } from '#analysis/hunt/torque-tables.ts'
import type { Evidence } from '#analysis/model/evidence.ts'
import type { HoldEvent } from '#analysis/model/hold-result.ts'
import { madeView, pumpUpS } from '../faults/made-hold.ts'
import { atMinute, fitting, held, holdSpec, leak, marked, section, system, valve } from './made-system.ts'

const two = system(
  [section('feed'), section('forward'), section('bare')],
  [fitting('F1', 'feed', { name: 'wing root' }), fitting('F2', 'feed'), fitting('F3', 'forward')],
  [valve('V1', ['feed', 'forward'])],
  [
    holdSpec('feed', ['feed'], ['V1']),
    holdSpec('forward', ['forward'], ['V1']),
    holdSpec('both', ['feed', 'forward'], ['V1']),
    holdSpec('bare', ['bare'], []),
  ],
)
const fails = (hold: string, molPerS: number, minute = 0) =>
  held(two, hold, minute, 'fail', [leak(hold, molPerS, 1e-8)])
const passes = (hold: string, minute = 0) => held(two, hold, minute, 'pass', [leak(hold, 0, 2e-9)])

describe('hunt() says what it found', () => {
  it.each<[what: string, evidence: Evidence[], message: string]>([
    ['nothing held', [], 'No hold gives evidence yet: the ranking uses the kinds of the fittings alone.'],
    ['a section without fittings', [passes('bare')], 'The holds so far covered no fitting of the file.'],
    [
      'a tight section',
      [passes('feed')],
      'No held fitting is under suspicion: over 99 % sure that none of them leaks.',
    ],
    [
      'a leak at either of two joints, or through the valve',
      [fails('feed', 5e-7)],
      'A fitting leaks, but none of 2 fittings stands out yet.',
    ],
    [
      'a joint that bubbles in a fail',
      [fails('feed', 5e-7), ...[6, 8].map((minute) => marked('look', 'F1', minute, { finding: 'bubbles' }))],
      'F1 (wing root) leaks, over 99 % sure.',
    ],
    [
      'two of them',
      [
        fails('feed', 5e-7),
        fails('forward', 5e-7, 60),
        ...[6, 8].map((minute) => marked('look', 'F1', minute, { finding: 'bubbles' })),
        ...[66, 68].map((minute) => marked('look', 'F3', minute, { finding: 'bubbles' })),
      ],
      'F3 (flare fitting) leaks and F1 (wing root) leaks, each at least 90 % sure.',
    ],
  ])('%s', (_, evidence, message) => {
    expect(hunt(two, evidence).message).toBe(message)
  })
  it('a file without fittings', () => {
    expect(hunt({ ...two, fittings: [] }, []).message).toBe(
      'The system file names no fittings, so there is nothing to hunt.',
    )
  })
})

test('hunt() leaves a section that no hold covered at the priors of its joints: 1 − 0.95² of two flares (computed)', () => {
  const found = hunt(two, [passes('forward')], { fittingsOnly: true })
  const [feed, forward] = found.sections
  expect(feed.leaking).toBeCloseTo(1 - 0.95 ** 2, 9)
  expect(forward.leaking).toBeLessThan(0.01)
  expect(found.fittings.map(({ id, held: isHeld }) => [id, isHeld])).toEqual([
    ['F3', true],
    ['F1', false],
    ['F2', false],
  ])
})

test('hunt() takes a leak that fell at a look at a joint for that joint: 1 in 50 such falls is chance (own figure)', () => {
  const rare = { ...two, priors: { source: 'made up', leaking: { flare: 1e-4 } } }
  const event = (value: number, probability = 1): HoldEvent => ({
    time_ns: atMinute(8),
    kind: 'slope',
    mark: { kind: 'look', id: 'F1' },
    section: 'feed',
    change: { value, low: value, high: value, unit: 'mol_per_s' },
    probability,
    message: '',
  })
  const ratio = (...events: HoldEvent[]) => {
    const hold = held(rare, 'feed', 0, 'fail', [leak('feed', 5e-7, 1e-8)], { result: { events } })
    const { fittings } = hunt(rare, [hold], { fittingsOnly: true })
    const chance = (id: string) => fittings.find((f) => f.id === id)!.leaking
    return chance('F1') / chance('F2')
  }
  expect(ratio()).toBeCloseTo(1, 9)
  expect(ratio(event(2e-7))).toBeCloseTo(1, 9)
  expect(ratio(event(-2e-7)) / 50).toBeCloseTo(1, 1)
  // 1/(1 − 0.98·0.5)
  expect(ratio(event(-2e-7, 0.5))).toBeCloseTo(1 / 0.51, 1)
})

test('hunt() names holds of one section that contradict each other without work between, the larger and the smaller', () => {
  const { cautions } = hunt(two, [fails('feed', 9e-7), fails('feed', 2e-7, 60)])
  expect(cautions.filter((text) => text.startsWith('feed found'))).toEqual([
    expect.stringMatching(/^feed found more than the other holds allow/),
    expect.stringMatching(/^feed found less than the other holds allow/),
  ])
  expect(hunt(two, [fails('feed', 5e-7), fails('feed', 5e-7, 60)]).cautions).toEqual([])
})

test('compareHolds() of two sections names what is left where one is cured and the other is not', () => {
  const of = (minute: number, feed: number, verdict: 'fail' | 'undecided') =>
    held(two, 'both', minute, verdict, [leak('feed', feed, 1e-8), leak('forward', 3e-7, 1e-8)])
  const [before, after] = [of(0, 6e-7, 'fail'), of(60, 0, 'undecided')]
  const work = marked('work', 'F1', 30, { action: 'remake' })
  const { sections, left } = compareHolds(two, before.result, after.result, [before, work, after])
  expect(sections.map((s) => [s.section, s.changed, s.explains_all])).toEqual([
    ['feed', 'less', true],
    ['forward', 'not-shown', false],
  ])
  expect(left.map(({ id }) => id)).toContain('F3')
})

describe('zerosOfHold(a hold)', () => {
  const {
    recording,
    system: of,
    ventS,
    spec,
  } = madeView({
    endS: 900,
    pa: (timeS, quiet) => quiet + (timeS < 400 ? 300 : 700),
  })
  const at = (timeS: number | null) =>
    timeS === null ? null : String(BigInt(recording.startNs) + BigInt(timeS * 1e9))
  const result = (pump: number | null, hold = spec.id) =>
    ({ hold, stages: { pump_up_ns: at(pump), vent_ns: at(ventS) } }) as never
  it('reads the zero before pump-up and after the vent', () => {
    const [zero] = zerosOfHold(recording, of, result(pumpUpS), 'r1')
    expect(zero).toMatchObject({ gauge: 'p-line', record: 'r1', time_ns: at(pumpUpS) })
    expect(Math.abs(zero.before_Pa - 300)).toBeLessThan(3)
    expect(Math.abs(zero.after_Pa! - 700)).toBeLessThan(3)
  })
  it('is none without a marked pump-up or of a hold that the file lacks (refuses)', () => {
    expect(zerosOfHold(recording, of, result(null), 'r1')).toEqual([])
    expect(zerosOfHold(recording, of, result(pumpUpS, 'other'), 'r1')).toEqual([])
  })
})

test.each([
  ['8-32', 20],
  ['8-36', 20],
  ['10-24', 35],
  ['10-32', 40],
  ['1/4-20', 75],
  ['1/4-28', 100],
  ['5/16-18', 160],
  ['5/16-24', 225],
] as const)('screwLimitNm(%s) is %d in·lb (AC 43.13-1B, table 7-1)', (size, limit) => {
  expect(screwLimitNm(fitting('S', 'feed', { size }))! / 0.112984829).toBeCloseTo(limit, 6)
})
