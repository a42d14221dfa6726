import { describe, expect, it } from 'vitest'
import { molPerSPerScc } from '#analysis/physics/standard-flow.ts'
import { fromUnit } from '#analysis/physics/units.ts'
import { type MeaningContext, meaningOf } from '#analysis/verdict/meaning.ts'

const outsidePa = 101325
const context: MeaningContext = {
  medium: 'air',
  insidePa: outsidePa + fromUnit(3.5, 'psi'),
  outsidePa,
  temperatureK: 293.15,
  dropPa: 400,
  holdS: 600,
}
const scc = (perMin: number) => ({ kind: 'gas', molPerS: perMin * molPerSPerScc(273.15) }) as const

describe('meaningOf a gas leak', () => {
  it('1 scc/min at 3.5 psig could pass 2.1 mL/h of avgas, 0.7 drops a minute (computed, viscosity assumed)', () => {
    const meaning = meaningOf(scc(1), context)
    // 2.095 mL/h with air of 1.82e-5 Pa·s; Sutherland's law gives 1.813e-5
    expect(meaning.fuel_mL_per_h! / 2.095).toBeCloseTo(1, 2)
    expect(meaning.drops_per_min).toBeCloseTo(meaning.fuel_mL_per_h! / 60 / 0.05, 12)
  })
  it('52.30 scc/min at 3.5 psig is a hole of 0.1 mm (computed, Cd 0.6)', () => {
    expect(meaningOf(scc(52.3), context).equivalent_hole_m! * 1e3).toBeCloseTo(0.1, 4)
  })
  it('a drop of 400 Pa in 10 min is 2400 Pa an hour', () => {
    expect(meaningOf(scc(1), context).drop_per_hour_Pa).toBeCloseTo(2400, 9)
  })
  it('says which fuel it took: avgas', () => {
    expect(meaningOf(scc(1), context).assumptions.join()).toContain('avgas of 0.5 mPa·s')
  })
  it('a suction hold leaks inwards through the same hole', () => {
    const suction = { ...context, insidePa: outsidePa - 10_000 }
    expect(meaningOf(scc(1), suction).equivalent_hole_m!).toBeGreaterThan(0)
    expect(meaningOf(scc(1), suction).fuel_mL_per_h!).toBeGreaterThan(0)
  })
  it('says what was assumed: viscosity, path, hole, drop', () => {
    const text = meaningOf(scc(1), context).assumptions.join('\n')
    for (const word of ['0.5 mPa·s', 'laminar', 'discharge coefficient 0.6', '0.05 mL']) {
      expect(text).toContain(word)
    }
  })
})

describe('meaningOf a liquid leak', () => {
  const liquid: MeaningContext = { ...context, medium: 'avgas' }
  it('2.313 mL/min of avgas at 3.5 psig is a hole of 0.1 mm (computed)', () => {
    const meaning = meaningOf({ kind: 'liquid', m3PerS: fromUnit(2.313, 'mL/min') }, liquid)
    expect(meaning.equivalent_hole_m! * 1e3).toBeCloseTo(0.1, 4)
    expect(meaning.fuel_mL_per_h).toBeCloseTo(2.313 * 60, 9)
  })
})

describe('meaningOf no leak', () => {
  it('an estimate of zero or below, noise about none, passes no fuel', () => {
    for (const perMin of [0, -0.01]) {
      expect(meaningOf(scc(perMin), context)).toMatchObject({ equivalent_hole_m: null, fuel_mL_per_h: 0 })
    }
  })
})

describe('meaningOf() states what it assumed', () => {
  const even = { ...context, insidePa: 125_000 }
  const perHour = 'drop per hour: at the rate of the stated test pressure'
  const round = 'hole: round, sharp-edged, discharge coefficient 0.6; a real leak path is longer and wider'
  const drops = 'drops: 0.05 mL each (common practice)'
  const path = (fuel: string) =>
    `fuel: ${fuel} mPa·s through one laminar path at the test pressure; swelling, dirt or surface tension may hold it back`

  it('of a gas, a liquid, and no leak', () => {
    const gas = { kind: 'gas', molPerS: 1e-7 } as const
    expect(meaningOf(gas, even).assumptions).toEqual([perHour, path('avgas of 0.5'), round, drops])
    expect(meaningOf(gas, { ...even, medium: 'nitrogen' }).assumptions[1]).toBe(path('avgas of 0.5'))
    const liquid = meaningOf({ kind: 'liquid', m3PerS: 1e-9 }, { ...even, medium: 'jet-a' }).assumptions
    expect(liquid[1]).toMatch(/^hole: jet-a of \d{3} kg\/m³$/)
    expect([liquid[0], ...liquid.slice(2)]).toEqual([perHour, round, drops])
    for (const none of [
      meaningOf({ kind: 'gas', molPerS: 0 }, even),
      meaningOf(gas, { ...even, insidePa: 101_325 }),
    ])
      expect(none).toEqual({
        drop_per_hour_Pa: 2400,
        equivalent_hole_m: null,
        fuel_mL_per_h: 0,
        drops_per_min: 0,
        assumptions: [perHour],
      })
  })
  it('a hole for nitrogen is smaller than for air by the root of the molar masses, 28.013 and 28.965 g/mol (law)', () => {
    const hole = (medium: 'air' | 'nitrogen') =>
      meaningOf({ kind: 'gas', molPerS: 1e-7 }, { ...even, medium }).equivalent_hole_m!
    // Orifice flow in moles goes with 1/√M; the area with the square of the diameter.
    expect(hole('nitrogen') / hole('air')).toBeCloseTo((28.013 / 28.965) ** 0.25, 3)
  })
})
