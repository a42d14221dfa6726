import { expect, it } from 'vitest'
import { readRecording } from '#ingest/recording/read-recording.ts'
import { readSystemFile } from '#ingest/system-file/read-system-file.ts'
import { contractSystem } from './contract-system.ts'

const system = readSystemFile(contractSystem, 'aircraft.yaml').system!

/** Lines of a logger at these times, [s]; each with a different pressure. */
function jumpsOf(timesS: readonly number[], psi: (i: number) => number = (i) => 10 + i / 1000): number[] {
  const lines = timesS.map(
    (s, i) => `logger,port=a p1=${psi(i)} ${1767225600000 + Math.round(s * 1000)}000000`,
  )
  const { clockJumps } = readRecording(`${lines.join('\n')}\n`, system, 'a.lp')
  return (clockJumps ?? []).map(({ seconds }) => seconds)
}

const seconds = (from: number, to: number) => Array.from({ length: to - from }, (_, i) => from + i)

it.each([20, 60, 100])(
  'readRecording(a clock set back by %i s over times that were read) reports the jump',
  (by) => {
    const back = seconds(0, 300).map((s) => s + 200.4 - by)
    expect(jumpsOf([...seconds(0, 200), ...back])).toEqual([expect.closeTo(1.4 - by, 6)])
  },
)

it('readRecording(a clock set back to the same seconds, other readings) reports the jump', () => {
  expect(jumpsOf([...seconds(0, 200), ...seconds(150, 300)])).toHaveLength(1)
})

it('readRecording(a clock set back to before the recording) reports the jump', () => {
  expect(jumpsOf([...seconds(0, 200), ...seconds(-3400, -3000)])).toEqual([-3599])
})

/** `run` late lines after 200 s of one line a second, in which some seconds are missing: [lines, whether a jump]. */
const gap = (from: number, to: number) => seconds(0, 200).filter((s) => s < from || s >= to)
it.each([
  [
    '4 of 10 between lines, 6 in a gap',
    [...gap(100, 106), ...seconds(100, 106), 106.3, 107.3, 108.3, 109.3],
    0,
  ],
  [
    '6 of 10 between lines, 4 in a gap',
    [...gap(100, 104), ...seconds(100, 104), ...seconds(104, 110).map((s) => s + 0.3)],
    1,
  ],
  ['half-way between lines', [...seconds(0, 200), ...seconds(100, 120).map((s) => s + 0.5)], 1],
  [
    '0.7 of a step from lines',
    [
      ...seconds(0, 200).filter((s) => s < 100 || s % 2 === 0 || s > 140),
      ...seconds(50, 70).map((s) => 2 * s + 1),
    ],
    0,
  ],
  [
    '5 of 10 between lines, 5 in a gap',
    [...gap(100, 105), ...seconds(100, 105), ...seconds(105, 110).map((s) => s + 0.3)],
    0,
  ],
  ['back by a second', [...seconds(0, 200), ...seconds(198, 300)], 1],
  ['back by less than a second', [...seconds(0, 200), ...seconds(199, 300).map((s) => s - 0.9)], 0],
  ['9 lines before all others', [...seconds(0, 200), ...seconds(-90, -81)], 0],
  ['10 lines before all others', [...seconds(0, 200), ...seconds(-90, -80)], 1],
])('readRecording(lines out of order, %s) reports %#', (_, times, jumps) => {
  expect(jumpsOf(times)).toHaveLength(jumps)
})

it.each([
  [17, 1],
  [19, 0],
])(
  'readRecording(20 lines at times that were read, %i of them the same readings) reports %i jumps',
  (same, jumps) => {
    const times = [...seconds(0, 200), ...seconds(100, 120)]
    expect(jumpsOf(times, (i) => 10 + times[i] / 1000 + (i >= 200 + same ? 1 : 0))).toHaveLength(jumps)
  },
)

it('readRecording(lines sent twice from the first on, or before the first) reports no jump', () => {
  const psi = (s: number) => 10 + s / 1000
  for (const times of [
    [...seconds(0, 200), ...seconds(0, 300)],
    [...seconds(5, 200), ...seconds(4, 300)],
    [...seconds(0, 100), ...seconds(50, 100), ...seconds(50, 100), ...seconds(100, 300)],
  ])
    expect(jumpsOf(times, (i) => psi(times[i]))).toEqual([])
})

it('readRecording(lines sent twice) reports no jump: same times, same readings', () => {
  const times = [...seconds(0, 200), ...seconds(100, 200), ...seconds(200, 300)]
  expect(jumpsOf(times, (i) => 10 + times[i] / 1000)).toEqual([])
})

it.each([
  ['neighbours swapped', seconds(0, 300).map((s) => (s % 7 === 3 ? s + 1 : s % 7 === 4 ? s - 1 : s))],
  [
    'eight lines late by a minute',
    [...seconds(0, 100), ...seconds(108, 168), ...seconds(100, 108), ...seconds(168, 300)],
  ],
  ['the newest first', seconds(0, 300).reverse()],
])('readRecording(%s) has no jump: a gap is filled', (_, times) => {
  expect(jumpsOf(times)).toEqual([])
})
