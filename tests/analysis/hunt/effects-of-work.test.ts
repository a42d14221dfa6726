import { expect, test } from 'vitest'
import { epochEvents } from '#analysis/hunt/effects-of-work.ts'
import { marksInOrder } from '#analysis/hunt/evidence-order.ts'
import { fitting, marked, section, system } from './made-system.ts'

const plane = system(
  [section('feed'), section('forward')],
  [
    fitting('F1', 'feed'),
    fitting('F2', 'feed', { behind: ['F1'] }),
    fitting('F4', 'feed'),
    fitting('F3', 'forward'),
  ],
  [],
  [],
)
const after = (kind: 'work' | 'look', fields: Record<string, string>) =>
  new Map(
    [...epochEvents(plane, marksInOrder([marked(kind, 'F2', 5, fields)]), [])].map(([id, events]) => [
      id,
      events.map(({ effect }) => effect),
    ]),
  )

test('epochEvents(work on F2 behind F1) may cure F2, opens F1, may harm F4 beside it and leaves the other section alone', () => {
  const effects = after('work', { action: 'remake' })
  expect([...effects.keys()].sort()).toEqual(['F1', 'F2', 'F4'])
  expect(effects.get('F2')![0].cure).toBeGreaterThan(0.5)
  expect(effects.get('F4')).toEqual([{ cure: 0, unchanged: 1, harm: expect.any(Number) }])
  expect(effects.get('F4')![0].harm).toBeGreaterThan(0)
  expect(effects.get('F1')).not.toEqual(effects.get('F4'))
})

test('epochEvents(a look outside of any hold) counts only where it shows a leak', () => {
  expect([...after('look', { finding: 'bubbles' }).keys()]).toEqual(['F2'])
  expect([...after('look', { finding: 'dry' }).keys()]).toEqual([])
})
