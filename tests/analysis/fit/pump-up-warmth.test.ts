import { describe, expect, it } from 'vitest'
import { pumpUpWarmth } from '#analysis/fit/gas-rows.ts'
import { gasThermometerBelief } from '#analysis/fit/hold-model.ts'
import type { HoldStages } from '#analysis/stages/stages-from-pressure.ts'

const roomK = 290
const relativePressure = 0.07
/** Rise of an adiabatic pump-up, [K]: 2/7 of the pressure added over the absolute pressure. */
const adiabaticK = (2 / 7) * relativePressure * roomK

/** A reading a second from 0 to 2000 s; pump-up from 100 s, its end at 200 s. */
function warmth(kelvinAt: (timeS: number) => number, pumpUpS: number | null) {
  const timeS = Float64Array.from({ length: 2000 }, (_, i) => i).subarray(pumpUpS === null ? 200 : 0)
  const kelvins = { timeS, kelvin: timeS.map(kelvinAt) }
  return pumpUpWarmth(kelvins, { pumpUpS } as HoldStages, 200, 2000, relativePressure)
}

const cooling = (timeS: number): number => (timeS < 100 ? 0 : Math.exp(-Math.max(0, timeS - 200) / 200))

describe('pumpUpWarmth', () => {
  it('is the rise from before pump-up over an adiabatic one', () => {
    const { share, seen } = warmth((t) => roomK + 0.5 * adiabaticK * cooling(t), 100)
    expect(seen).toBe(true)
    expect(share).toBeCloseTo(0.5, 6)
  })

  it.each([
    [-4.5, 0],
    [4.5, 0],
    [-4.5, 0.5],
    [0, 0.5],
  ])(
    'in a room that drifts by %d K/h, without the pump-up, is how far it begins off the trend: %d',
    (perH, rise) => {
      const { share, seen } = warmth((t) => roomK + (perH * t) / 3600 + rise * adiabaticK * cooling(t), null)
      expect(seen).toBe(false)
      // The tail of the cooling tilts the trend a little; the thermometer is read over eight seconds.
      expect(Math.abs(share - rise)).toBeLessThan(0.1 * rise + 1e-3)
    },
  )

  it('takes no missing reading for one: half of an adiabatic fall under suction, read twice a minute', () => {
    const timeS = Float64Array.from({ length: 66 }, (_, i) => 30 * i + 20)
    const kelvin = timeS.map((t) => roomK - 0.5 * adiabaticK * (t < 100 ? 0 : 1))
    const { share } = pumpUpWarmth(
      { timeS, kelvin },
      { pumpUpS: 100 } as HoldStages,
      200,
      2000,
      -relativePressure,
    )
    expect(share).toBeCloseTo(0.5, 6)
  })

  it('is nothing where there is too little to tell a trend by', () => {
    const kelvins = { timeS: Float64Array.of(200, 900), kelvin: Float64Array.of(295, 290) }
    expect(pumpUpWarmth(kelvins, { pumpUpS: null } as HoldStages, 200, 2000, relativePressure)).toEqual({
      share: 0,
      seen: false,
    })
  })
})

describe('gasThermometerBelief', () => {
  it.each([
    [0.004, true, 0.01],
    [0.05, true, 0.2],
    [0.25, true, 0.5],
    [0.6, true, 0.99],
    [0, false, 0.2],
    [0.6, false, 0.8],
  ])('a rise of %d of an adiabatic one, seen %s: %d', (share, seen, belief) => {
    expect(gasThermometerBelief({ share, seen })).toBeCloseTo(belief, 12)
  })
})
