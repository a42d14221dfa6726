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
