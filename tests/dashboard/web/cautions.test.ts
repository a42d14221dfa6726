import { describe, expect, test } from 'vitest'
import { cautionsFor, sheetFor } from '#dashboard/web/start/cautions.ts'
import { standInSystem } from '#tests/browser/stand-in-system.ts'

const [line] = standInSystem.holds

describe('what is said before the pump-up', () => {
  test('cautionsFor() names the limit first, and the maker before it', () => {
    const [first] = cautionsFor(line, standInSystem)
    expect(first).toContain('left-feed 15.00 psi')
    expect(first).toContain('maker')
  })

  test('cautionsFor() speaks up where the file states no maximum pressure', () => {
    const open = {
      ...standInSystem,
      sections: standInSystem.sections.map((one) => ({ ...one, maxPressurePa: null })),
    }
    expect(cautionsFor(line, open)[0]).toContain('states no limit for left-feed')
  })

  test('cautionsFor() always covers relief, inert gas, eyes, tightening and local rules', () => {
    const all = cautionsFor(line, standInSystem).join(' ')
    for (const word of [
      'relief between supply and section',
      'inert gas',
      'ignition',
      'eye protection',
      'under pressure',
      'local rules',
    ]) {
      expect(all).toContain(word)
    }
  })

  test('cautionsFor() of a hold under suction speaks of its vacuum: no limit of pressure, no relief valve', () => {
    const under = { ...line, pressurePa: -6895 }
    const open = cautionsFor(under, standInSystem).join(' ')
    expect(open).toContain('states no max-vacuum for left-feed')
    expect(open).toContain('vacuum breaker')
    expect(open).not.toMatch(/relief|15\.00 psi/)
    const stated = {
      ...standInSystem,
      sections: standInSystem.sections.map((one) => ({ ...one, maxVacuumPa: 13_789.5 })),
    }
    expect(cautionsFor(under, stated)[0]).toContain('never a deeper vacuum than left-feed 2.00 psi')
  })

  test('sheetFor() asks for each valve the hold needs shut, by id and name', () => {
    const sheet = sheetFor(line, standInSystem, true)
    expect(sheet[0]).toContain('V1 (left shut-off) is shut')
    expect(sheet[1]).toContain('V2 (selector, left) is shut')
    expect(sheet.join(' ')).toContain('plug')
  })

  test('sheetFor() of a full line asks for a syringe before the hold: without a stroke 0 of 16 leaks were decided', () => {
    const asksFor = (medium: 'air' | 'avgas') =>
      sheetFor(
        line,
        { ...standInSystem, sections: standInSystem.sections.map((one) => ({ ...one, medium })) },
        true,
      ).some((one) => one.includes('syringe of known volume'))
    expect([asksFor('air'), asksFor('avgas')]).toEqual([false, true])
  })

  test('sheetFor() asks for a cap that ends its section as for a valve between two', () => {
    const [cap] = standInSystem.valves.filter((one) => one.between.length === 1)
    const [said] = sheetFor({ ...line, shut: [cap.id] }, standInSystem, true)
    expect(said).toBe(`${cap.id} (${cap.name}) is shut`)
  })
})
