import { readFileSync } from 'node:fs'
import { describe, expect, test } from 'vitest'
import { statedAllowance } from '#analysis/fit/hold-leak.ts'
import type { HoldSpec, Section, System } from '#analysis/model/system.ts'
import { toUnit } from '#analysis/physics/units.ts'
import { allowanceAsFuel } from '#analysis/plan/plan-advice.ts'
import { holdCautions, reliefSetting, whyNotPlanned } from '#analysis/reasons/hold-cautions.ts'
import { readSystemFile } from '#ingest/system-file/read-system-file.ts'

const text = readFileSync(new URL('../../../recordings/floatplane.yaml', import.meta.url), 'utf8')
const plane = readSystemFile(text, 'floatplane.yaml').system!
const hold = (id: string): HoldSpec => plane.holds.find((one) => one.id === id)!
const psi = 6894.757293
const inPsi = (pa: number): string => `${toUnit(pa, 'psi').toFixed(2)} psi`
const withTank = (changes: Partial<Section>): System => ({
  ...plane,
  sections: plane.sections.map((one) => (one.id === 'left-tank' ? { ...one, ...changes } : one)),
})

describe('whyNotPlanned', () => {
  test('whyNotPlanned() refuses a tank without a stated limit, and plans a line without one', () => {
    const tank = whyNotPlanned(hold('left-tank-1psi'), withTank({ maxPressurePa: null }), inPsi)
    expect(tank).toContain('states no max-pressure for the tank left-tank')
    const lines = {
      ...plane,
      sections: plane.sections.map((one) => ({ ...one, maxPressurePa: null })),
    }
    expect(whyNotPlanned(hold('feed-lines-10psi'), lines, inPsi)).toBeNull()
  })
  test('whyNotPlanned() refuses where no relief fits between test pressure and limit, and plans the demo holds', () => {
    const none = whyNotPlanned(hold('left-tank-1psi'), withTank({ maxPressurePa: psi }), inPsi)
    expect(none).toContain('no room for a relief')
    for (const spec of plane.holds) expect(whyNotPlanned(spec, plane, inPsi), spec.id).toBeNull()
  })
})

describe('holdCautions', () => {
  test('the relief of a 1 psi hold opens below the 1.5 psi limit of the tank; a 3 psi boat test takes 1.5 ± 0.5 psi above (33 CFR 183.542, 15.5.8)', () => {
    const { setPa, spreadPa } = reliefSetting(psi, 1.5 * psi)
    expect([setPa / psi, (setPa + spreadPa) / psi < 1.5, (setPa - spreadPa) / psi > 1]).toEqual([
      1.25,
      true,
      true,
    ])
    const boat = reliefSetting(3 * psi, null)
    expect([boat.setPa / psi, boat.spreadPa / psi]).toEqual([4.5, 0.5])
    const said = holdCautions(hold('left-tank-1psi'), plane, inPsi)
    expect(said.find(({ topic }) => topic === 'relief-valve')?.message).toContain(
      'opens at 1.25 psi ± 0.08 psi',
    )
  })
  test('a tank is offered a water leg of 0.88 m for 1.25 psi (computed) and refused a shop compressor', () => {
    const said = holdCautions(hold('left-tank-1psi'), plane, inPsi)
    expect(said.find(({ topic }) => topic === 'water-leg')?.message).toContain(
      '0.88 m of water opens at 1.25 psi',
    )
    expect(said.find(({ topic }) => topic === 'no-compressor')?.message).toContain(
      'Never connect a shop compressor',
    )
    const lines = holdCautions(hold('feed-lines-10psi'), plane, inPsi)
    expect(lines.some(({ topic }) => topic === 'water-leg')).toBe(false)
    expect(lines.find(({ topic }) => topic === 'no-compressor')?.message).toContain('regulator and a relief')
  })
})

test('allowanceAsFuel() of the demo tank is 6 mL an hour, half of what sustains a flame: a caution; of the feed lines 8 %: none (computed)', () => {
  const of = (id: string) => {
    const spec = hold(id)
    const section = plane.sections.find((one) => one.id === spec.sections[0])!
    return allowanceAsFuel(spec, section, statedAllowance(plane, spec))!
  }
  const tank = of('left-tank-1psi')
  expect([tank.isCaution, tank.advice.message]).toEqual([
    true,
    expect.stringContaining('6.1 mL an hour, 2 drops a minute: 51 %'),
  ])
  const lines = of('feed-lines-10psi')
  expect([lines.isCaution, lines.advice.message]).toEqual([false, expect.stringContaining('0.94 mL an hour')])
})
