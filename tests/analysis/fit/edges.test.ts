import { describe, expect, it } from 'vitest'
import { fullLine } from '#analysis/fit/full-line.ts'
import { gasHold } from '#analysis/fit/gas-rows.ts'
import { coordinate } from '#analysis/fit/hold-constants.ts'
import { statedAllowance } from '#analysis/fit/hold-leak.ts'
import { gasBeliefs, gasThermometerBelief, openPlaces, stiffnessOf } from '#analysis/fit/hold-model.ts'
import { budgetOf, grownBy } from '#analysis/fit/uncertainty-budget.ts'
import { type Made, madeView, testPa } from '../faults/made-hold.ts'
import { holdSpec, section, system } from '../hunt/made-system.ts'

describe('statedAllowance() of a full line', () => {
  const wet = section('w', { medium: 'avgas', volumeM3: 0.5e-3 })
  const of = system([wet, section('dry')], [], [], [])
  const stated = (allow: ReturnType<typeof holdSpec>['allow'], sections = ['w']) =>
    statedAllowance(of, holdSpec('h', sections, [], { allow, pressurePa: 50_000 }))
  // Geometric middle of the yield of the liquid alone and that with 5 % of air (docs/method.md), 1/p for air.
  const { leastYieldPerPa } = fullLine(wet, 'avgas', 293.15, 50_000)
  const yieldPerPa = Math.sqrt(leastYieldPerPa * (leastYieldPerPa + 0.05 / (50_000 + 101_325)))
  it('is a leak of m³/s in mL/min, and its drop by the yield: leak · time / (V · y)', () => {
    const { mL_per_min, drop_Pa } = stated({ kind: 'liquid-leak', m3PerS: 1e-10 })
    expect(mL_per_min).toBeCloseTo(0.006, 12)
    expect(drop_Pa / ((1e-10 * 600) / (0.5e-3 * yieldPerPa))).toBeCloseTo(1, 9)
  })
  it('is a drop back in mL/min', () => {
    const { drop_Pa } = stated({ kind: 'liquid-leak', m3PerS: 1e-10 })
    const back = stated({ kind: 'drop', dropPa: drop_Pa })
    expect(back.mL_per_min).toBeCloseTo(0.006, 12)
    expect(back.drop_Pa).toBeCloseTo(drop_Pa, 6)
    expect(back).not.toHaveProperty('mol_per_s')
  })
  it('says nothing of gas in a full line, nor of liquid in a dry one: no leak is below zero', () => {
    expect(stated({ kind: 'gas-leak', molPerS: 1e-7 })).toEqual({ mL_per_min: 0, drop_Pa: 0 })
    expect(stated({ kind: 'liquid-leak', m3PerS: 1e-10 }, ['dry'])).toEqual({
      mL_per_min: expect.closeTo(0.006, 12),
      drop_Pa: 0,
    })
  })
})

describe('gasThermometerBelief() (own figures)', () => {
  const belief = (share: number, seen = true) => gasThermometerBelief({ share, seen })
  it('is 1 % below 0.6 % of an adiabatic rise, where the rise was seen', () => {
    expect([belief(0.0055), belief(0.0065), belief(0.0055, false)]).toEqual([0.01, 0.2, 0.2])
  })
  it('rises from a fifth to nearly one between a wall in a warming room and three tenths more', () => {
    expect(belief(0.15)).toBe(0.2)
    expect(belief(0.25)).toBeCloseTo(0.5, 12)
    expect(belief(0.34)).toBeCloseTo(0.8, 12)
    expect([belief(1), belief(1, false)]).toEqual([0.99, 0.8])
  })
})

describe('openPlaces() frees what a hold can tell', () => {
  const { recording, system: of, ...view } = madeView()
  const hold = gasHold(recording, of, { ...view, source: 'marks' }, view.signal, ['line'], view.untilS)!
  const beliefs = gasBeliefs(hold, section('line'), view.spec)
  const free = (over: Partial<typeof beliefs>, hasThermometer: boolean) => {
    const places = openPlaces({ ...beliefs, ...over }, hasThermometer)
    return Object.entries(coordinate).flatMap(([name, place]) => (places.includes(place) ? [name] : []))
  }
  const always = ['gasTau', 'pumpHeat', 'gasError', 'walk']
  it.each<[string, Partial<typeof beliefs>, boolean, string[]]>([
    ['a rigid tight line', { stretchPerPa: 0, flowTells: false, creeps: false }, false, ['slowing']],
    [
      'a soft one that creeps and falls',
      { stretchPerPa: null, flowTells: true, creeps: true },
      false,
      ['slowing', 'creep', 'creepTau', 'stretch', 'flow'],
    ],
    [
      'a thermometer that is on the wall',
      { stretchPerPa: 0, flowTells: false, creeps: false, gasThermometer: 0.0149 },
      true,
      ['slowing', 'thermometerTau', 'rough', 'gain'],
    ],
    [
      'a thermometer that may be in the gas',
      { stretchPerPa: 0, flowTells: false, creeps: false, gasThermometer: 0.0151 },
      true,
      ['slowing', 'thermometerTau', 'gasShare', 'rough', 'gain'],
    ],
    [
      'a full line of stated stretch',
      { line: { stretchStated: true } as never, stretchPerPa: 0, flowTells: false, creeps: false },
      false,
      ['rough', 'yield'],
    ],
    [
      'a full line of unstated stretch',
      { line: { stretchStated: false } as never, stretchPerPa: 0, flowTells: false, creeps: false },
      false,
      ['rough', 'yield', 'air'],
    ],
  ])('%s', (_, over, hasThermometer, more) => {
    expect(free(over, hasThermometer).sort()).toEqual([...always, ...more].sort())
  })
})

describe('stiffnessOf() is d ln p / d ln n of V₀(1 + κg)', () => {
  it('is 1 for a rigid volume, and that of the gas law (differentiated numerically)', () => {
    expect(stiffnessOf(0, 200_000, 100_000)).toBe(1)
    const [kappa, atmospherePa, gaugePa] = [0.3e-5, 101_325, 68_948]
    const moles = (g: number) => (g + atmospherePa) * (1 + kappa * g)
    const step = 0.01
    const numeric =
      Math.log((gaugePa + step + atmospherePa) / (gaugePa - step + atmospherePa)) /
      Math.log(moles(gaugePa + step) / moles(gaugePa - step))
    expect(stiffnessOf(kappa, gaugePa + atmospherePa, gaugePa)).toBeCloseTo(numeric, 6)
  })
})

describe('budgetOf() and grownBy()', () => {
  it('give shares of one, largest first, without those of nothing', () => {
    expect(budgetOf({ gauge: 1, drift: 0, heat: 3 })).toEqual([
      { source: 'heat', share: 0.75 },
      { source: 'gauge', share: 0.25 },
    ])
    expect(budgetOf({})).toBeNull()
    expect(budgetOf({ gauge: 0 })).toBeNull()
  })
  it('add what an interval of 1.5 times the variance has more, and take nothing away', () => {
    expect(grownBy({ gauge: 1, heat: 3 }, 'rig', 1.5)).toEqual({ gauge: 1, heat: 3, rig: 2 })
    expect(grownBy({ gauge: 1, heat: 3 }, 'heat', 1.5)).toEqual({ gauge: 1, heat: 5 })
    expect(grownBy({ gauge: 1, heat: 3 }, 'rig', 0.9)).toEqual({ gauge: 1, heat: 3 })
  })
})

describe('gasHold() begins the fit', () => {
  const prepared = (made: Made) => {
    const { recording, system: of, ...view } = madeView(made)
    return gasHold(recording, of, { ...view, source: 'marks' }, view.signal, ['line'], view.untilS)!
  }
  const startS = (made: Made) => {
    const { rows, middleS } = prepared(made)
    return middleS[0] - (rows.fromS[0] + rows.toS[0]) / 2
  }
  /** Pumped on after the settle mark at 70 s, until ten seconds after a moment, by a share of the pressure. */
  const pumpedOn = (share: number, fromS = 70): Made => ({
    pa: (timeS, quiet) =>
      quiet < testPa / 2 ? quiet : quiet + share * testPa * Math.min(1, Math.max(0, timeS - fromS) / 10),
  })
  it('a second after the settle mark, or after a peak that is 1 % of the pressure higher (own figure)', () => {
    expect(startS({})).toBe(71)
    expect(startS(pumpedOn(0.008))).toBe(71)
    expect(startS(pumpedOn(0.0125))).toBeGreaterThanOrEqual(81)
  })
  it('but a rise in the hold is a rise of the hold', () => {
    expect(startS(pumpedOn(0.05, 150))).toBeGreaterThanOrEqual(161)
    expect(startS(pumpedOn(0.05, 172))).toBe(71)
  })
  it('leaves out single readings beyond twelve standard deviations of the noise (own figure)', () => {
    const { std } = prepared({}).noise
    const spikes = (times: number) =>
      prepared({ pa: (timeS, quiet) => ([300, 400].includes(timeS) ? testPa + 12 * times * std : quiet) })
        .spikes
    expect([spikes(0.75), spikes(1.25)]).toEqual([0, 2])
  })
  it('needs eight blocks', () => {
    const { recording, system: of, ...view } = madeView()
    const until = (untilS: number) =>
      gasHold(recording, of, { ...view, source: 'marks' }, view.signal, ['line'], untilS)
    expect(until(78)).toBeNull()
    expect(until(84)).not.toBeNull()
  })
})
