import fc from 'fast-check'
import { expect, test } from 'vitest'
import { fewestSets } from '#analysis/hunt/fewest-sets.ts'
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
const state = (evidence: Parameters<typeof ledger>[1]) =>
  Object.fromEntries(ledger(plane, evidence).fittings.map((f) => [f.id, f.proof.state]))
const pass = (hold: string, minute: number) =>
  held(plane, hold, minute, 'pass', null, { record: `${hold}-${minute}` })
const fail = (hold: string, minute: number) =>
  held(plane, hold, minute, 'fail', null, { record: `${hold}-${minute}` })

test('ledger() proves what a passing hold covered, by its record, and nothing else (issue 5)', () => {
  const l = ledger(plane, [pass('feed', 0)])
  expect(l.counts).toEqual({ proven: 2, stale: 0, failed: 0, 'never-held': 1 })
  expect(l.fittings[0].proof).toMatchObject({ state: 'proven', record: 'feed-0', hold: 'feed' })
  expect(l.complete).toBe(false)
})

test('ledger() makes a fitting stale by work on it, with the joint opened to reach it (issue 5)', () => {
  expect(state([pass('both', 0), marked('work', 'F2', 60, { action: 'retighten' })])).toEqual({
    F1: 'stale',
    F2: 'stale',
    F3: 'proven',
  })
})

test('ledger() makes a fitting stale by work on the joint it lies behind (issue 5)', () => {
  expect(state([pass('both', 0), marked('work', 'F1', 60, { action: 'remake' })])).toEqual({
    F1: 'stale',
    F2: 'stale',
    F3: 'proven',
  })
})

test('ledger() does not count a hold during which the fitting was worked on (issue 5)', () => {
  expect(state([pass('forward', 0), marked('work', 'F3', 10, { action: 'retighten' })])['F3']).toBe('stale')
})

test('ledger() throws doubt on all that a failing hold reached, until part of it passes alone (issue 5)', () => {
  expect(state([pass('feed', 0), fail('both', 60)])).toEqual({ F1: 'failed', F2: 'failed', F3: 'failed' })
  expect(state([pass('feed', 0), fail('both', 60), pass('forward', 120)])).toEqual({
    F1: 'failed',
    F2: 'failed',
    F3: 'proven',
  })
})

test('ledger() asks for a second pass where a leak went away and nobody did anything (issue 5)', () => {
  expect(state([fail('forward', 0), pass('forward', 60)])['F3']).toBe('failed')
  expect(state([fail('forward', 0), pass('forward', 60), pass('forward', 120)])['F3']).toBe('proven')
  const work = marked('work', 'F3', 30, { action: 'reseal' })
  expect(state([fail('forward', 0), work, pass('forward', 60)])['F3']).toBe('proven')
})

test('ledger() does not count a hold whose shut valve was marked open (issue 5)', () => {
  expect(state([marked('valve', 'V1', -5, { open: true }), pass('feed', 0)])['F1']).toBe('never-held')
})

test('ledger() ignores undecided, void and corrected holds (issue 5)', () => {
  const undecided = held(plane, 'feed', 0, 'undecided')
  const none = held(plane, 'feed', 60, 'void')
  const corrected = held(plane, 'feed', 120, 'void', null, { record: 'x', corrects: 'feed-90' })
  expect(state([undecided, none, pass('feed', 90), corrected])['F1']).toBe('never-held')
})

test('ledger() is not complete before every plug is marked out (issue 5)', () => {
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

test('ledger() names a fitting that no hold can cover (issue 5)', () => {
  const blind = system(plane.sections, plane.fittings, plane.valves, [holdSpec('feed', ['feed'], ['V1'])], [])
  expect(ledger(blind, []).uncoverable.map((u) => u.id)).toEqual(['F1', 'F2', 'F3'])
})

test('ledger() never proves a fitting whose last event is work or a fail (law, any order of events)', () => {
  const event = fc.constantFrom('pass-feed', 'fail-feed', 'pass-both', 'fail-both', 'work-F1')
  fc.assert(
    fc.property(fc.array(event, { minLength: 1, maxLength: 8 }), (events) => {
      const evidence = events.map((e, i) => {
        const [what, on] = e.split('-')
        if (what === 'work') return marked('work', on, 60 * i, { action: 'remake' })
        return what === 'pass' ? pass(on, 60 * i) : fail(on, 60 * i)
      })
      if (!events.at(-1)!.startsWith('pass')) expect(state(evidence)['F1']).not.toBe('proven')
    }),
  )
})

test('fewestSets() needs no more sets than trying every combination (law)', () => {
  const ids = ['a', 'b', 'c', 'd', 'e', 'f']
  fc.assert(
    fc.property(fc.array(fc.subarray(ids, { minLength: 1 }), { minLength: 1, maxLength: 8 }), (members) => {
      const sets = members.map((m) => ({ members: m, cost: 1 }))
      const { chosen, exact } = fewestSets(ids, sets)
      const all = new Set(members.flat())
      let fewest = Number.POSITIVE_INFINITY
      for (let mask = 0; mask < 2 ** sets.length; mask++) {
        const picked = members.filter((_, i) => (mask >> i) & 1)
        if (new Set(picked.flat()).size === all.size) fewest = Math.min(fewest, picked.length)
      }
      expect(exact).toBe(true)
      expect(chosen).toHaveLength(fewest)
      expect(new Set(chosen.flatMap((c) => members[c])).size).toBe(all.size)
    }),
  )
})

test('ledger() follows the fittings of the rig apart: neither counted, open nor held again (issue 10)', () => {
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
