import { describe, expect, it } from 'vitest'
import { isNoChance } from '#analysis/faults/gauge-readings.ts'
import { gaugeAdvice } from '#analysis/faults/instrument-advice.ts'
import { withUsableBarometers } from '#analysis/faults/usable-barometers.ts'
import { allowedPa, codesOf, holdS, madeView, testPa } from './made-hold.ts'

describe('isNoChance(200 equal readings)', () => {
  /** Readings in whole steps, over and over; their noise is √(mean square of the steps between neighbors / 2). */
  const over = (...pattern: number[]) =>
    Float64Array.from({ length: 480 }, (_, i) => pattern[i % pattern.length])
  it('needs a noise of 0.7 steps beside them (own figure): √(22/16/2) = 0.83 is enough, √(4/6/2) = 0.58 is not', () => {
    expect(isNoChance(200, over(0, 1, 0, 1, 0, 1, 0, 1, 0, 1, 0, 1, 0, 1, 0, 2), 1)).toBe(true)
    expect(isNoChance(200, over(0, 1, 0, 1, 0, 0), 1)).toBe(false)
  })
})

describe('withUsableBarometers()', () => {
  it('says nothing of a barometer that the recording does not have', () => {
    const barometer = { measures: 'barometric-pressure', section: null, unit: 'hPa' } as const
    const { recording, system } = madeView({ others: [{ channel: barometer, at: () => null }] })
    const { faults, recording: heard } = withUsableBarometers(recording, system, holdS, 770)
    expect(codesOf(faults)).toEqual([])
    expect(heard).toBe(recording)
  })
})

describe('gaugeAdvice() tells by how much', () => {
  it('the span in test pressures, step and accuracy as shares of the allowance', () => {
    const channel = {
      ...madeView().signal.channel,
      rangeSi: [0, 4 * testPa],
      accuracySi: allowedPa / 2,
    } as const
    expect(
      gaugeAdvice(channel, testPa, allowedPa, allowedPa / 5).map(({ cautions: [one] }) => one),
    ).toMatchObject([
      { code: 'gauge-span-large', values: { times: 4 } },
      { code: 'gauge-coarse', values: { share: 0.2 } },
      { code: 'gauge-inaccurate', values: { share: 0.5 } },
    ])
  })
})
