import fc from 'fast-check'
import { expect, test } from 'vitest'
import { cheapestCover } from '#analysis/hunt/cheapest-cover.ts'
import { ledger } from '#analysis/hunt/ledger.ts'
import { fitting, held, holdSpec, marked, section, system, valve } from './made-system.ts'

const plane = system(
  [section('feed'), section('forward')],
  [fitting('F1', 'feed'), fitting('F2', 'feed', { behind: ['F1'] }), fitting('F3', 'forward')],
  [valve('V1', ['feed', 'forward'])],
  [
    holdSpec('feed', ['feed'], ['V1']),
    holdSpec('forward', ['forward'], ['V1']),
    holdSpec('both', ['feed', 'forward'], []),
  ],
)
const pass = (hold: string, minute: number) =>
  held(plane, hold, minute, 'pass', null, { record: `${hold}-${minute}` })

test('ledger() proves what a passing hold covered, by its record, and nothing else', () => {
  const l = ledger(plane, [pass('feed', 0)])
  expect(l.counts).toEqual({ proven: 2, stale: 0, failed: 0, 'never-held': 1 })
  expect(l.fittings[0].proof).toMatchObject({ state: 'proven', record: 'feed-0', hold: 'feed' })
  expect(l.complete).toBe(false)
})

test('ledger() is not complete before every plug is marked out', () => {
  const into = marked('plug', 'P1', 0, { state: 'in' })
  const l = ledger(plane, [into, pass('both', 10)])
  expect(l.counts.proven).toBe(3)
  expect(l.complete).toBe(false)
  expect(l.plugs_in.map((p) => p.id)).toEqual(['P1'])
  expect(ledger(plane, [into, pass('both', 10), marked('plug', 'P1', 60, { state: 'out' })]).complete).toBe(
    true,
  )
})

test('ledger() closes everything with the one hold over both sections (computed by hand)', () => {
  const { holds_to_do, holds_to_do_exact } = ledger(plane, [])
  expect(holds_to_do.map((h) => h.hold)).toEqual(['both'])
  expect(holds_to_do_exact).toBe(true)
})

test('ledger() names a fitting that no hold can cover', () => {
  const blind = system(plane.sections, plane.fittings, plane.valves, [holdSpec('feed', ['feed'], ['V1'])], [])
  expect(ledger(blind, []).uncoverable.map((u) => u.id)).toEqual(['F1', 'F2', 'F3'])
})

test('cheapestCover() costs no more than the cheapest of all combinations, what is paid once counted once (law)', () => {
  const ids = ['a', 'b', 'c', 'd', 'e', 'f']
  const once = new Map([
    ['plug', 3],
    ['rig', 8],
  ])
  const set = fc.record({
    members: fc.subarray(ids, { minLength: 1 }),
    cost: fc.integer({ min: 1, max: 20 }),
    once: fc.subarray([...once.keys()]),
  })
  fc.assert(
    fc.property(fc.array(set, { minLength: 1, maxLength: 8 }), (sets) => {
      const cover = cheapestCover(ids, sets, once)
      const all = new Set(sets.flatMap((s) => s.members))
      let cheapest = Number.POSITIVE_INFINITY
      for (let mask = 0; mask < 2 ** sets.length; mask++) {
        const picked = sets.filter((_, i) => (mask >> i) & 1)
        if (new Set(picked.flatMap((s) => s.members)).size < all.size) continue
        const paid = [...new Set(picked.flatMap((s) => s.once))].reduce((sum, id) => sum + once.get(id)!, 0)
        cheapest = Math.min(
          cheapest,
          picked.reduce((sum, s) => sum + s.cost, paid),
        )
      }
      expect(cover).toMatchObject({ exact: true, cost: cheapest, bound: cheapest })
      expect(new Set(cover.chosen.flatMap((c) => sets[c].members)).size).toBe(all.size)
    }),
  )
})

test('ledger() follows the fittings of the rig apart: neither counted, open nor held again', () => {
  const withRig = system(
    [section('feed'), section('hose', { kind: 'rig' })],
    [fitting('F1', 'feed'), fitting('R1', 'hose')],
    [],
    [holdSpec('feed', ['feed'], []), holdSpec('hose', ['hose'], [])],
  )
  const l = ledger(withRig, [held(withRig, 'feed', 0, 'pass', null, { record: 'feed-0' })])
  expect(l.counts).toEqual({ proven: 1, stale: 0, failed: 0, 'never-held': 0 })
  expect(l.complete).toBe(true)
  expect(l.holds_to_do).toEqual([])
  expect(l.fittings.map((f) => [f.id, f.proof.state, f.rig ?? false])).toEqual([
    ['F1', 'proven', false],
    ['R1', 'never-held', true],
  ])
})
