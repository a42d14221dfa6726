import { describe, expect, it } from 'vitest'
import { type GasRows, type GasShape, gasColumnsOf } from '#analysis/fit/gas-columns.ts'

const n = 12
const gaugePa = 10_000
const atmospherePa = 100_000
const flat = (value: number) => new Float64Array(n).fill(value)

function noise(absolute: boolean, shape: Partial<GasShape>, gain = 1) {
  const rows: GasRows = {
    fromS: Float64Array.from({ length: n }, (_, i) => 10 * i),
    toS: Float64Array.from({ length: n }, (_, i) => 10 * i + 10),
    absolutePa: flat(atmospherePa + gaugePa),
    gaugePa: flat(gaugePa),
    variance: flat(5),
    weatherVariance: flat(3),
    absolute,
    logTemperature: flat(0),
    temperatureVariance: flat(2),
    temperatureK: 290,
    holdFromS: 5,
    statedHoldS: 100,
    testPa: atmospherePa + gaugePa,
    testGaugePa: gaugePa,
  }
  const whole: GasShape = {
    thermometer: 'wall',
    lagS: 30,
    convective: false,
    stretchPerPa: 0,
    flowExponent: 1,
    ...shape,
  }
  const { variance, thermal } = gasColumnsOf(rows, [100])(whole).noiseAt(gain)
  return { variance: variance[n - 1], thermal }
}

/** κ that makes the stiffness ½ at this pressure: 1/(1 + κ·110/(1 + κ·10)) with κ·110 = 1 + κ·10. */
const half = 1 / 100_000

describe('noiseAt: white variance of the response', () => {
  it('on a gauge a rigid volume has all the noise of the barometer, one of stiffness ½ a quarter of it', () => {
    expect(noise(false, {}).variance).toBeCloseTo(5, 12)
    expect(noise(false, { stretchPerPa: half }).variance).toBeCloseTo(5 - 3 * 0.75, 12)
  })

  it('an absolute transducer has none of it in a rigid volume, a quarter where the stiffness is ½', () => {
    expect(noise(true, {}).variance).toBeCloseTo(5, 12)
    expect(noise(true, { stretchPerPa: half }).variance).toBeCloseTo(5 + 3 * 0.25, 12)
  })

  it('a thermometer in the gas adds its own, through stiffness and gain', () => {
    const { variance, thermal } = noise(false, { thermometer: 'gas', stretchPerPa: half }, 1.2)
    expect(thermal?.variance).toBeCloseTo(2 * (1.2 * 0.5) ** 2, 12)
    expect(thermal?.logSlope).toBeCloseTo(Math.log(1.2 * 0.5), 12)
    expect(variance).toBeCloseTo(5 - 3 * 0.75 + 2 * 0.36, 12)
  })
})
