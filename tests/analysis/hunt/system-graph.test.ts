import { expect, test } from 'vitest'
import { weepAdvice } from '#analysis/hunt/fitting-kinds.ts'
import { fittingKinds } from '#analysis/model/system.ts'
import { holdCoverage, systemProblems } from '#analysis/model/system-graph.ts'
import { fitting, holdSpec, section, system, valve } from './made-system.ts'

const of = (valves: Parameters<typeof system>[2], gauges?: readonly string[]) =>
  system(
    ['tank', 'feed', 'forward'].map((id) => section(id)),
    [fitting('T', 'tank'), fitting('F', 'feed'), fitting('W', 'forward')],
    valves,
    [],
    gauges,
  )
const valves = [valve('V1', ['tank', 'feed']), valve('V2', ['feed', 'forward'])]
const codes = (c: ReturnType<typeof holdCoverage>) => c.problems.map((p) => p.code)

test('holdCoverage() joins sections through open valves and stops at shut ones (law)', () => {
  const c = holdCoverage(of(valves), holdSpec('h', ['tank', 'feed'], ['V2']))
  expect(c.bodies.map((b) => b.sections)).toEqual([['tank', 'feed']])
  expect(c.covered).toEqual(['T', 'F'])
  expect(c.problems).toEqual([])
})

test('holdCoverage() covers nothing when gas reaches a section it does not name (refuses)', () => {
  const c = holdCoverage(of(valves), holdSpec('h', ['feed'], ['V1']))
  expect(codes(c)).toContain('not-closed')
  expect(c.covered).toEqual([])
  expect(c.reached).toEqual(['F', 'W'])
})

test('holdCoverage() covers nothing when a cap to the outside is off (refuses)', () => {
  const c = holdCoverage(of([...valves, valve('C1', ['forward'], 'cap')]), holdSpec('h', ['forward'], ['V2']))
  expect(codes(c)).toEqual(['open-to-outside'])
  expect(c.covered).toEqual([])
})

test('holdCoverage() names a shut valve that borders on nothing held (refuses)', () => {
  expect(codes(holdCoverage(of(valves), holdSpec('h', ['tank'], ['V1', 'V2'])))).toEqual(['valve-elsewhere'])
})

test('holdCoverage() does not cover what no gauge sees (refuses)', () => {
  const c = holdCoverage(of(valves, ['feed']), holdSpec('h', ['feed', 'tank'], ['V1', 'V2']))
  expect(c.covered).toEqual(['F'])
  expect(codes(c)).toEqual(['not-measured'])
})

test('holdCoverage() lets a gauge beyond a check valve prove nothing about the other side (law)', () => {
  const c = holdCoverage(
    of([valve('K', ['tank', 'feed'], 'check'), valve('V2', ['feed', 'forward'])], ['feed']),
    holdSpec('h', ['tank', 'feed'], ['V2']),
  )
  expect(c.covered).toEqual(['F'])
})

test('systemProblems() names fittings that no hold of the file covers', () => {
  const file = { ...of(valves), holds: [holdSpec('h', ['feed'], ['V1', 'V2'])] }
  expect(systemProblems(file).map((p) => p.message)).toEqual([
    'No hold of the file covers T, W: add a hold over tank, forward.',
  ])
})

test('weepAdvice() of every kind begins with venting (common practice)', () => {
  for (const kind of fittingKinds)
    expect(weepAdvice(fitting('F', 's', { kind }))).toMatch(/^Vent first, never tighten under pressure: /)
})
