import { expect, test } from 'vitest'
import { figuresOf } from '#dashboard/web/parts/chart-figures.tsx'

const view = {
  columns: [
    { x: [0, 100, 200, 300, 400], y: [10.02, 10.03, Number.NaN, 9.99, 9.97] },
    { x: [100, 400], y: [10, 10.0004] },
  ],
  x: [0, 800],
  y: null,
  zeroS: 100,
} as const

test('figuresOf() says in words how each line runs: from, to, lowest, highest, in which time', () => {
  expect(figuresOf(view, ['as read', 'compensated'], 'psi', 2).summary).toBe(
    'as read falls from 10.02 to 9.97 psi in 6:40, lowest 9.97, highest 10.03; compensated stays at 10.00 psi in 5:00, lowest 10.00, highest 10.00.',
  )
})
test('figuresOf() gives a table of nine times from the first to the newest reading, with gaps as words', () => {
  const { rows } = figuresOf(view, ['as read', 'compensated'], 'psi', 2)
  expect(rows.map(({ time }) => time)).toEqual([
    '−1:40',
    '−0:50',
    '0:00',
    '0:50',
    '1:40',
    '2:30',
    '3:20',
    '4:10',
    '5:00',
  ])
  expect(rows[0].values).toEqual(['10.02', 'no reading'])
  expect(rows[4].values).toEqual(['no reading', '10.00'])
  expect(rows[8].values).toEqual(['9.97', '10.00'])
})
test('figuresOf() of a chart without readings says so', () => {
  expect(figuresOf({ ...view, columns: [] }, ['as read'], 'psi', 2).summary).toBe(
    'as read has no readings yet.',
  )
})
