import { readFileSync } from 'node:fs'
import { join } from 'node:path'
import { describe, expect, it } from 'vitest'
import { caution } from '#analysis/faults/fault.ts'
import { shownUnits } from '#analysis/physics/unit-table.ts'
import { findUnit } from '#analysis/physics/units.ts'
import { figuresIn } from '#analysis/reasons/figures.ts'
import { phrase } from '#analysis/reasons/phrase.ts'
import { root } from './source-files.ts'

const guide = readFileSync(join(root, 'DEVELOPERS.md'), 'utf8')
const recipe = (name: string): string => guide.slice(guide.indexOf(`**${name}`)).split(/\n\n(?=\*\*|##)/)[0]

describe('recipes of DEVELOPERS.md, followed', () => {
  it("A reason: a caution carries its code and SI values, and its sentence follows the reader's units", () => {
    expect(recipe('A reason')).toContain('analysis/reasons/phrases.ts')
    const values = { section: 'tank', pressure_Pa: 13_789.5, limit_Pa: 10_342.1, vacuum: false }
    const [told] = caution('over-max-pressure', values).cautions
    expect(told).toEqual({ code: 'over-max-pressure', values })
    // 13 789.5 Pa is 2 psi, 10 342.1 Pa 1.5 psi (NIST SP 811).
    expect(phrase(told, { pressure: 'psi', temperature: 'degC', volume: 'L' })).toMatch(
      /^tank reached 2 psi; its limit is 1.5 psi\./,
    )
    expect(phrase(told, { pressure: 'kPa', temperature: 'degC', volume: 'L' })).toMatch(
      /^tank reached 13.8 kPa; its limit is 10.3 kPa\./,
    )
  })
  it('A reason: one without values, from an old record, keeps the sentence it came with', () =>
    expect(
      phrase(
        { code: 'valve-open', message: 'As it was.' },
        { pressure: 'psi', temperature: 'degC', volume: 'L' },
      ),
    ).toBe('As it was.'))

  it('A unit: every unit that the page offers stands in the one table, and a pressure in it can be worded', () => {
    expect(recipe('A unit')).toContain('shownUnits')
    for (const { symbol } of [...shownUnits.gauge, ...shownUnits.barometer]) {
      expect(findUnit(symbol, 'pressure')?.unit.symbol).toBe(symbol)
      expect(figuresIn({ pressure: symbol, temperature: 'degC', volume: 'L' }).pressure(101_325)).toMatch(
        new RegExp(`^[0-9.]+ ${symbol}$`),
      )
    }
  })

  it('every file that a recipe names is there', () => {
    const named = [...guide.matchAll(/\]\(([a-z][\w./-]+\.tsx?)\)/g)].map((match) => match[1])
    expect(named.length).toBeGreaterThan(5)
    for (const path of named) expect(() => readFileSync(join(root, path))).not.toThrow()
  })
})
