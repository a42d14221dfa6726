import { readFileSync } from 'node:fs'
import { describe, expect, it, test } from 'vitest'
import { vesselBelief } from '#analysis/fit/fit-beside-vessel.ts'
import { fullLine, strokesOf } from '#analysis/fit/full-line.ts'
import { afterStrokes, type GasHold } from '#analysis/fit/gas-rows.ts'
import { constants } from '#analysis/fit/hold-constants.ts'
import { statedAllowance } from '#analysis/fit/hold-leak.ts'
import { fullLineBeliefs, unseenWeatherPa } from '#analysis/fit/hold-model.ts'
import { leaksOf } from '#analysis/model/hold-result.ts'
import type { Mark } from '#analysis/model/samples.ts'
import { analyzeRecording } from '#analysis/verdict/analyze-recording.ts'
import { readRecording } from '#ingest/recording/read-recording.ts'
import { systemFromFile } from '#ingest/system-file/read-system-file.ts'
import { holdSpec, section, system } from '../hunt/made-system.ts'

const read = (path: string): string => readFileSync(new URL(`../../../${path}`, import.meta.url), 'utf8')
const method = read('docs/method.md').replace(/\s+/g, ' ')

describe('the constants of the hold model are those that docs/method.md states', () => {
  it.each<[name: string, stated: RegExp, used: readonly number[]]>([
    ['shock and rubber', /a₁·e\^\(−t\/(\d+) s\) \+ a₂·e\^\(−t\/(\d+) s\)/, constants.transientTauS],
    ['least difference for convection', /\|G − W\| \+ ([\d.]+) K\)/, [constants.stillK]],
    ['convection', /e from 0 \(conduction\) to ([\d.]+) \(convection\)/, [constants.mostSlowing]],
    ['a telling fall', /falls by more than (\d+) %/, [100 * constants.tellingFall]],
    ['inflow', /weighted by `([\d.]+) \+ ([\d.]+)·Φ/, [constants.inflow, 1 - constants.inflow]],
    [
      'heat, span and stretch',
      /([\d.]+) % of the late pump-up heat and ([\d.]+) % of the drop \(([\d.]+) % if the stretch/,
      [
        100 * constants.heatTrust,
        100 * constants.spanStd,
        Number((100 * Math.hypot(constants.spanStd, constants.unstatedStd)).toFixed(1)),
      ],
    ],
    [
      'a twin vessel',
      /([\d.]+) % of the change that it removes counts as error/,
      [100 * constants.vesselGain],
    ],
    [
      'a full line',
      /fuel by conduction, (\d+) s, a factor of ([\d.]+) either way/,
      [constants.gasTauS[2], Number(Math.exp(constants.gasTauSpread[0]).toFixed(1))],
    ],
  ])('%s', (_, stated, used) => {
    expect(stated.exec(method)!.slice(1).map(Number)).toEqual(used)
  })
})

describe('analyzeRecording() gives the rates that the documents print (each output is what its command prints)', () => {
  const floatplane = systemFromFile(read('recordings/floatplane.yaml'), 'floatplane.yaml')
  const rate = (name: string): number[] => {
    const [{ result }] = analyzeRecording(
      readRecording(read(`recordings/${name}`), floatplane, name),
      floatplane,
    )
    const { value, low, high } = leaksOf(result)[0].scc_per_min!
    return [value, low, high].map((figure) => Number(figure.toPrecision(3)))
  }
  const printed = (text: string, line: RegExp): number[] =>
    line
      .exec(text)!
      .slice(1)
      .map((figure) => Number(figure.replace('−', '-')))
  it('README.md: a leak', () => {
    const line = /leak, 95 % .*; ([\d.]+) scc\/min \(([\d.]+) to ([\d.]+)\)/
    expect(rate('lines-leak.lp')).toEqual(printed(read('README.md'), line))
  })
  it('docs/hunt.md: the same lines tight', () => {
    const line = / after {2}([\d.]+) \((−[\d.]+) to ([\d.]+)\)/
    expect(rate('lines-retest.lp')).toEqual(printed(read('docs/hunt.md'), line))
  })
})

describe('strokesOf() (own figures and common practice)', () => {
  /** A line read once a second that rises by so much at 100 s, with a slower rest of the push after it. */
  const strokes = (fields: Mark['fields'], pa: (t: number) => number, marksS = [100], untilS = 200) => {
    const timeS = Float64Array.from({ length: 201 }, (_, i) => i)
    const marks = marksS.map(
      (at): Mark => ({ timeNs: '0', timeS: at, kind: 'stroke', id: null, hold: null, fields }),
    )
    return strokesOf(marks, timeS, timeS.map(pa), 10, untilS)
  }
  const step = (t: number): number => (t < 100 ? 0 : 1000)
  it('reads the step with 2.5 % for hand and eye, and a syringe to 2 % unless stated', () => {
    const [stroke] = strokes({ volume_mL: 1 }, step)
    expect(stroke).toMatchObject({ timeS: 100, volumeM3: 1e-6, beforePa: 0, afterPa: 1000 })
    expect(stroke.stdM3).toBeCloseTo(0.02e-6, 12)
    expect(stroke.stdPa).toBeCloseTo(Math.hypot(1, 25), 9)
    expect(strokes({ volume_mL: 1, std_mL: 0.05 }, step)[0].stdM3).toBeCloseTo(0.05e-6, 12)
  })
  it('leaves out 2 s before the mark and 6 s after it, and what is further than 24 s', () => {
    const pushed = (fromS: number, toS: number) => (t: number) =>
      step(t) + (t >= fromS && t <= toS && t !== 100 ? 400 : 0)
    const afterPa = (pa: (t: number) => number): number => strokes({ volume_mL: 1 }, pa)[0].afterPa
    expect(afterPa(pushed(99, 105))).toBeCloseTo(1000, 6)
    expect(afterPa(pushed(106, 107))).not.toBeCloseTo(1000, 0)
    expect(afterPa(pushed(125, 200))).toBeCloseTo(1000, 6)
    expect(afterPa(pushed(122, 123))).not.toBeCloseTo(1000, 0)
    expect(strokes({ volume_mL: 1 }, pushed(0, 75))[0].beforePa).toBeCloseTo(0, 6)
    expect(strokes({ volume_mL: 1 }, pushed(78, 79))[0].beforePa).not.toBeCloseTo(0, 0)
  })
  it('follows the slope on either side to the mark', () => {
    const [stroke] = strokes({ volume_mL: -1 }, (t) => (t < 100 ? 5 * t : 5 * t - 800))
    expect([stroke.beforePa, stroke.afterPa]).toEqual([expect.closeTo(500, 6), expect.closeTo(-300, 6)])
  })
  it('takes none that moved nothing, the other way, by less than three standard errors, or has no readings beside it', () => {
    expect(strokes({ volume_mL: -1 }, step)).toEqual([])
    expect(strokes({ volume_mL: 0 }, step)).toEqual([])
    expect(strokes({}, step)).toEqual([])
    expect(strokes({ volume_mL: 1 }, step, [12])).toEqual([])
    expect(strokes({ volume_mL: 1 }, step, [100], 108)).toEqual([])
    // ±30 Pa: a mean of some 20 readings at their end has a standard error of 14 Pa, two sides 20 Pa.
    const flicker = (rise: number) => strokes({ volume_mL: 1 }, (t) => (t < 100 ? 0 : rise) + 30 * (-1) ** t)
    expect(flicker(100)).toHaveLength(1)
    expect(flicker(20)).toEqual([])
  })
  it('two strokes see only what lies between them', () => {
    const two = strokes({ volume_mL: 1 }, (t) => (t < 100 ? 0 : t < 115 ? 1000 : 2500), [100, 115])
    expect(two.map(({ beforePa, afterPa }) => Math.round(afterPa - beforePa))).toEqual([1000, 1500])
  })
})

describe('vesselBelief() is the posterior of docs/method.md: tight with 0.7·N(λ̂; 0, σ), leaking with 0.3·e^(−λ/L)/L·N(λ̂; λ, σ)', () => {
  const gauss = (x: number): number => Math.exp(-0.5 * x * x)
  it.each([
    [0, 1, 1],
    [2, 1, 3],
    [-1, 1, 2],
    [4, 1, 10],
  ])('λ̂ = %f, σ = %f, L = %f (integrated in 100,000 steps)', (found, std, usual) => {
    const steps = 100_000
    const end = Math.max(0, found) + 10 * std
    let leaks = 0
    let mean = 0
    for (let i = 0; i < steps; i++) {
      const at = ((i + 0.5) * end) / steps
      const density = ((0.3 * end) / steps / usual) * Math.exp(-at / usual) * gauss((found - at) / std)
      leaks += density
      mean += density * at
    }
    const tight = 0.7 * gauss(found / std)
    const { weight, leak } = vesselBelief(found, std, usual)
    expect(weight[0]).toBeCloseTo(tight / (tight + leaks), 2)
    expect(weight.reduce((sum, w, i) => sum + w * leak[i], 0)).toBeCloseTo(mean / (tight + leaks), 2)
    expect(weight.reduce((sum, w) => sum + w, 0)).toBeCloseTo(1, 12)
  })
})

test('statedAllowance() of a rigid gas section is pV = nRT at 20 °C, of two sections with both volumes', () => {
  const two = system([section('a'), section('b')], [], [], [])
  const spec = holdSpec('h', ['a', 'b'], [], { allow: { kind: 'drop', dropPa: 690 } })
  const { mol_per_s, scc_per_min, drop_Pa } = statedAllowance(two, spec)
  expect(mol_per_s).toBeCloseTo((690 * 0.7e-3) / (8.314462618 * 293.15 * 600), 15)
  // 1 scc/min at 0 °C (docs/method.md section 2).
  expect(scc_per_min! / mol_per_s!).toBeCloseTo(1 / 7.4358389e-7, -2)
  expect(drop_Pa).toBe(690)
  const inMoles = statedAllowance(two, { ...spec, allow: { kind: 'gas-leak', molPerS: mol_per_s! } })
  expect(inMoles.drop_Pa).toBeCloseTo(690, 9)
})

describe('a full line in a hold of 30 blocks of ten seconds, the hold from 100 s', () => {
  const column = (at: (i: number) => number) => Float64Array.from({ length: 30 }, (_, i) => at(i))
  const rowsFrom = { fromS: column((i) => 10 * i), toS: column((i) => 10 * i + 10), holdFromS: 100 }
  const values = column((i) => i)
  const columns = {
    absolutePa: values,
    gaugePa: values,
    variance: values,
    weatherVariance: values,
    thermometer: values,
    thermometerVariance: values,
  }
  const hold = (barometricPa: Float64Array | null) =>
    ({
      middleS: column((i) => 1000 + 10 * i + 5),
      gaugePa: values,
      absolutePa: values,
      temperatureK: values,
      barometricPa,
      rows: { ...rowsFrom, ...columns },
      testPa: 150_000,
      meanTemperatureK: 300,
      unseenTemperatureK: 0.003 * Math.SQRT2,
    }) as unknown as GasHold
  const stroke = (intoS: number) => ({
    timeS: 1000 + intoS,
    volumeM3: 1e-6,
    stdM3: 1e-8,
    beforePa: 0,
    afterPa: 1,
    stdPa: 1,
  })
  it('afterStrokes() begins three seconds after the last stroke before the hold', () => {
    const { middleS, rows, temperatureK } = afterStrokes(
      hold(null),
      [stroke(20), stroke(61), stroke(150)],
      1100,
    )
    expect(middleS[0]).toBe(1065)
    expect([rows.fromS[0], rows.toS[0], rows.holdFromS]).toEqual([0, 10, 40])
    for (const part of [temperatureK!, rows.absolutePa, rows.variance, rows.thermometer!])
      expect([part.length, part[0]]).toEqual([24, 6])
    expect(afterStrokes(hold(null), [stroke(63)], 1100).middleS[0]).toBe(1075)
  })
  it('afterStrokes() keeps a hold without a stroke before it, or with fewer than eight blocks after one', () => {
    expect(afterStrokes(hold(null), [stroke(150)], 1100).middleS).toHaveLength(30)
    expect(afterStrokes(hold(null), [stroke(215)], 1300).middleS).toHaveLength(8)
    expect(afterStrokes(hold(null), [stroke(225)], 1300).middleS).toHaveLength(30)
  })
  it('fullLineBeliefs() leaves unmeasured weather of 1.3 hPa an hour in doubt, and the drift of a thermometer of 2 mK (own figures)', () => {
    const avgas = fullLine({ stretchPerPa: null }, 'avgas', 300, 50_000)
    const of = (barometricPa: Float64Array | null, stretchPerPa = avgas) =>
      fullLineBeliefs(hold(barometricPa), stretchPerPa, 1e-3, { pressurePa: 50_000, holdS: 900 }, [
        stroke(61),
        stroke(150),
      ])
    const { line, unseenWeatherStd, dropStd } = of(null)
    expect(unseenWeatherStd).toBeCloseTo((130 * 900) / 3600 / 150_000, 12)
    expect(line!.unseenLog).toBeCloseTo(Math.hypot(0.002, 0.003) / 300, 12)
    expect(line!.strokeS).toEqual([150])
    expect(dropStd).toBeCloseTo(1 / 3, 12)
    expect(of(values).unseenWeatherStd).toBe(0)
  })
})

test('unseenWeatherPa() moves a gauge whole, an absolute one of a tank that stretches by half and of any other by 5 % (own figures)', () => {
  const of = (absolute: boolean, over: Parameters<typeof section>[1], unseen: number | null = 100) =>
    unseenWeatherPa({ absolute, unseenWeatherPa: unseen } as GasHold, section('s', over), 900)
  expect(of(false, {})).toBe(100)
  expect(of(true, { kind: 'line' })).toBe(5)
  expect(of(true, { kind: 'tank' })).toBe(50)
  expect(of(true, { kind: 'tank', stretchPerPa: 0 })).toBe(5)
  expect(of(false, {}, null)).toBeCloseTo((130 * 900) / 3600, 12)
})
