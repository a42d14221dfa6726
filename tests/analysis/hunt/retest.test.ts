import { expect, test } from 'vitest'
import { compareHolds } from '#analysis/hunt/compare.ts'
import { rigCaution, rigStanding, subtractRig } from '#analysis/hunt/rig.ts'
import { valvePassing } from '#analysis/hunt/valve-passing.ts'
import { atMinute, fitting, held, holdSpec, leak, marked, section, system, valve } from './made-system.ts'

const plane = system(
  [section('feed'), section('forward'), section('rig', { kind: 'rig' })],
  [fitting('F1', 'feed'), fitting('F2', 'feed'), fitting('F3', 'forward')],
  [valve('V1', ['feed', 'forward'])],
  [
    holdSpec('feed', ['feed'], ['V1']),
    holdSpec('pair', ['feed', 'forward'], ['V1']),
    holdSpec('rig', ['rig'], []),
    holdSpec('feed-with-rig', ['feed'], ['V1'], { rig: 'rig' }),
  ],
)
const before = held(plane, 'feed', 0, 'fail', [leak('feed', 6e-7, 2e-8)])
const work = marked('work', 'F1', 30, { action: 'remake' })

test('compareHolds() adds uncertainties in quadrature: 3 and 4 make 5, a volume known exactly (computed by hand)', () => {
  const a = held(plane, 'feed', 0, 'fail', [leak('feed', 6e-7, 3e-8)])
  const b = held(plane, 'feed', 60, 'fail', [leak('feed', 2e-7, 4e-8)])
  const exact = { ...plane, sections: plane.sections.map((x) => ({ ...x, volumeToleranceM3: 0 })) }
  const [s] = compareHolds(exact, a.result, b.result, [a, work, b]).sections
  expect(s.change.value).toBeCloseTo(-4e-7, 15)
  expect(s.change.high - s.change.value).toBeCloseTo(1.959963984540054 * 5e-8, 15)
  expect(s.changed).toBe('less')
  expect(s.explains_all).toBe(false)
  expect(s.p_value).toBeLessThan(1e-10)
})

test('compareHolds() counts the tolerance of the volume once: 10 % of it on two leaks of 6 leaves their own 3 and 4 (computed by hand)', () => {
  // The tolerance alone adds 6·0.1/√3 to each leak, rectangular (JCGM 100:2008 4.3.7).
  const common = (6e-7 * 0.1) / Math.sqrt(3)
  const a = held(plane, 'feed', 0, 'fail', [leak('feed', 6e-7, Math.hypot(3e-9, common))])
  const b = held(plane, 'feed', 60, 'fail', [leak('feed', 6e-7, Math.hypot(4e-9, common))])
  const [s] = compareHolds(plane, a.result, b.result, [a, work, b]).sections
  expect(s.change.high - s.change.value).toBeCloseTo(1.959963984540054 * 5e-9, 11)
})

test('compareHolds() says that a leak which fell to nothing is explained whole', () => {
  const after = held(plane, 'feed', 60, 'pass', [leak('feed', 0.1e-7, 2e-8)])
  const c = compareHolds(plane, before.result, after.result, [before, work, after])
  expect(c.sections[0].explains_all).toBe(true)
  expect(c.message).toBe('The leak is gone: it fell, nothing above zero is left, and the new hold passes.')
  expect(c.left).toEqual([])
})

test('compareHolds() points to the others when work on one changed nothing', () => {
  const after = held(plane, 'feed', 60, 'fail', [leak('feed', 6e-7, 2e-8)])
  const c = compareHolds(plane, before.result, after.result, [before, work, after])
  expect(c.sections[0].changed).toBe('not-shown')
  expect(c.left[0].id).toBe('F2')
})

test('compareHolds() of a void hold proves nothing (refuses)', () => {
  const after = held(plane, 'feed', 60, 'void', [leak('feed', 0, 1e-9)])
  expect(compareHolds(plane, before.result, after.result, []).message).toMatch(/void/)
})

const pair = plane.holds.find((h) => h.id === 'pair')!

test('valvePassing() of a fall here and an equal rise there blames the valve', () => {
  const [v] = valvePassing(plane, pair, [leak('feed', 5e-7, 2e-8), leak('forward', -5e-7, 2e-8)])
  expect(v).toMatchObject({ valve: { id: 'V1' }, from: 'feed', to: 'forward' })
  expect(v.passing).toBeGreaterThan(0.99)
})

test('valvePassing() of a fall here and nothing there blames the outside', () => {
  const [v] = valvePassing(plane, pair, [leak('feed', 5e-7, 2e-8), leak('forward', 0, 2e-8)])
  expect(v.passing).toBeLessThan(0.1)
})

test('valvePassing() blames a check valve that passes backwards, from the side that loses', () => {
  const pump = { ...plane, valves: [valve('V1', ['forward', 'feed'], 'check')] }
  const [v] = valvePassing(pump, pair, [leak('feed', 5e-7, 2e-8), leak('forward', -5e-7, 2e-8)])
  expect(v).toMatchObject({ valve: { id: 'V1', between: ['forward', 'feed'] }, from: 'feed', to: 'forward' })
  expect(v.passing).toBeGreaterThan(0.99)
})

test('subtractRig() takes the rig off with its uncertainty: 3 and 4 make 5 (computed by hand)', () => {
  const { leak: left } = subtractRig(leak('feed', 9e-7, 3e-8), leak('rig', 2e-7, 4e-8), 68947.57, 68947.57)!
  expect(left.mol_per_s!.value).toBeCloseTo(7e-7, 15)
  expect(left.mol_per_s!.high - left.mol_per_s!.value).toBeCloseTo(1.959963984540054 * 5e-8, 15)
})

test('subtractRig() takes from the drop what it takes from the leak: 6 of 8 leave 300 of 400 Pa; of a leak near none by the width', () => {
  const pa = (value: number, half: number) => ({ value, low: value - half, high: value + half })
  const of = (value: number, std: number, drop: number, dropHalf: number) => ({
    ...leak('feed', value, std),
    drop_Pa: pa(drop, dropHalf),
  })
  const less = (from: ReturnType<typeof of>) =>
    subtractRig(from, leak('rig', 2e-7, 0), 68947.57, 68947.57)!.leak
  const large = less(of(8e-7, 1e-8, 400, 10))
  expect(large.drop_Pa.value).toBeCloseTo(300, 9)
  // 0.4 of a width of 3.92e-7 is a ratio of its own still; at 0.05 the widths' ratio counts: 20 Pa to 3.92e-7.
  expect(less(of(1.6e-7, 1e-7, 80, 10)).drop_Pa.value).toBeCloseTo(-20, 6)
  expect(less(of(0.2e-7, 1e-7, 80, 10)).drop_Pa.value).toBeCloseTo((-1.8e-7 * 20) / 3.919927969e-7, 6)
  expect(less(of(0, 0, 7, 0)).drop_Pa.value).toBe(7)
})

test('subtractRig() never raises a leak, whatever the rig measured (law)', () => {
  const { leak: left } = subtractRig(leak('feed', 1e-7, 3e-8), leak('rig', -5e-8, 4e-8), 68947.57, 68947.57)!
  expect(left.mol_per_s!.value).toBeCloseTo(1e-7, 15)
})

test('rigStanding() knows a rig proven within the day, and rigCaution() speaks of any other', () => {
  const rig = held(plane, 'rig', 0, 'pass', [leak('rig', 0, 1e-8)], { record: '0001-rig' })
  const at = (minute: number) => rigStanding([rig], 'rig', BigInt(atMinute(minute)))
  expect(at(60)).toMatchObject({ state: 'proven', where: '0001-rig' })
  expect(rigCaution(at(60))).toBeNull()
  expect(rigCaution(at(60 * 25))?.code).toBe('rig-unproven')
  expect(rigCaution(at(-60))?.code).toBe('rig-unproven')
})
