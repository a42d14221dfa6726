import { readFileSync } from 'node:fs'
import { expect, it, test } from 'vitest'
import { limitAdvice, limitInThisHold, publishedLimits } from '#analysis/plan/plan-advice.ts'
import { figuresIn } from '#analysis/reasons/figures.ts'

const hold = { pressurePa: 68947.57293, holdS: 600 }

it('limitInThisHold(EN 1949) in 0.85 L at 10 psi for 10 min is 9447 Pa: 1.4 mbar·L/min at 150 mbar, p² − p_b² (computed)', () =>
  expect(limitInThisHold(publishedLimits[0], 0.85e-3, hold)).toBeCloseTo(9447, -1))

it('limitInThisHold() at its own pressure, time and volume is the published drop itself (identity)', () => {
  for (const limit of publishedLimits) {
    const own = { pressurePa: limit.testPa, holdS: limit.seconds }
    expect(limitInThisHold(limit, limit.volumeM3 ?? 0.05, own)).toBeCloseTo(limit.dropPa, 6)
  }
})

it('limitInThisHold() of a limit stated for the system itself does not depend on its volume; that of 0.7 L falls with it', () => {
  const [caravan, boat] = publishedLimits
  expect(limitInThisHold(boat, 0.07, hold)).toBe(limitInThisHold(boat, 0.0004, hold))
  expect(limitInThisHold(caravan, 0.07, hold)).toBeCloseTo(0.01 * limitInThisHold(caravan, 0.0007, hold), 6)
})

test('docs/allowance.md carries every published limit with its clause', () => {
  const page = readFileSync('docs/allowance.md', 'utf8')
  const rows = page.split('\n').filter((line) => line.startsWith('| '))
  for (const { clause } of publishedLimits)
    expect(rows.some((row) => row.includes(`| ${clause} |`))).toBe(true)
})

test('limitAdvice() says how many times the allowance each limit is, and nothing of suction', () => {
  const shown = figuresIn({ pressure: 'mbar', temperature: 'degC', volume: 'L' })
  const [caravan] = limitAdvice(hold, 0.85e-3, 944.7, shown)
  expect(caravan.message).toContain('LPG in caravans (10 mbar of 150 mbar in 5 min with 0.7 L)')
  expect(caravan.message).toContain('10 times your allowance')
  expect(limitAdvice({ ...hold, pressurePa: -20000 }, 0.85e-3, 944.7, shown)).toEqual([])
})
