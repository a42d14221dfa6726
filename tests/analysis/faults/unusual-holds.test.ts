import { describe, expect, it } from 'vitest'
import { gaugeReadings } from '#analysis/faults/gauge-readings.ts'
import { gaugeResponse } from '#analysis/faults/gauge-response.ts'
import { liquidCaution } from '#analysis/faults/liquid-caution.ts'
import { samplingFaults } from '#analysis/faults/sampling.ts'
import { secondGauge } from '#analysis/faults/second-gauge.ts'
import { supplyConnected } from '#analysis/faults/supply-connected.ts'
import { temperatureFaults } from '#analysis/faults/temperature.ts'
import type { Channel } from '#analysis/model/system.ts'
import {
  allowedPa,
  atmospherePa,
  codesOf,
  holdS,
  type Made,
  madeView,
  quietPa,
  testPa,
  toldBy,
} from './made-hold.ts'

describe('a dial of 500 divisions, written down every 25 s, that stands on one division from settle to vent', () => {
  const written = (atRest: boolean) =>
    toldBy(
      gaugeReadings(
        madeView({
          channel: { rangeSi: [0, 2e5], resolutionSi: 400 },
          pa: (timeS) => {
            if (timeS === 10 && atRest) return 0
            return timeS < 70 || (timeS - 70) % 25 > 0 ? null : timeS <= 770 ? 68_800 : 0
          },
        }),
      ),
    )
  it('is alive when it was read at rest, at pressure and after the vent', () => {
    expect(written(true)).toEqual([])
  })
  it('is stuck when nobody read it at rest', () => {
    expect(written(false)).toEqual([
      ['void', 'gauge-stuck', { section: 'line', channel: 'p-line', seconds: 675, still: 'pump-up' }],
    ])
  })
})

it("gaugeResponse() takes no gauge of the hold's own sections for the one that rose instead", () => {
  const own = madeView({
    pa: (_, quiet) => 0.01 * quiet,
    spec: { sections: ['line', 'beyond'] },
    others: [{ channel: { section: 'beyond' }, at: (timeS) => quietPa(timeS, 770) }],
  })
  expect(codesOf(gaugeResponse(own, false))).toEqual(['no-pump-up-response'])
})

it('gaugeResponse() needs five readings before pump-up and after the vent to call a plug pulled out', () => {
  const pulled = (fromS: number, endS: number) =>
    codesOf(
      gaugeResponse(
        madeView({
          endS,
          channel: { rangeSi: [-1200, 198_800] },
          pa: (timeS, quiet) => (timeS < fromS ? null : timeS < 771 ? quiet : -1200),
        }),
        false,
      ),
    ).includes('clipped')
  // The second half of the time after the vent counts, to just before its end.
  expect([pulled(0, 780), pulled(0, 778), pulled(55, 780), pulled(56, 780)]).toEqual([
    true,
    false,
    true,
    false,
  ])
})

it('samplingFaults(a reading that is no number each other second) has one each two seconds, and misses none', () => {
  const every = (pa: Made['pa']) => codesOf(samplingFaults(madeView({ pa }), false))
  expect(every((timeS, quiet) => (timeS % 2 === 0 ? quiet : Number.NaN))).toEqual([])
  expect(every((timeS, quiet) => (timeS > 400 && timeS < 540 ? Number.NaN : quiet))).toEqual([
    'samples-missing',
  ])
})

describe('secondGauge(a gauge and an absolute one that falls by two allowances more)', () => {
  const falls = (timeS: number) =>
    atmospherePa + quietPa(timeS, 770) - (timeS > holdS ? (2 * allowedPa * (timeS - holdS)) / 600 : 0)
  const absolute = { channel: { measures: 'absolute-pressure' } as Partial<Channel>, at: falls }
  const barometer = {
    channel: { measures: 'barometric-pressure', section: null } as Partial<Channel>,
    at: (timeS: number) => atmospherePa + 3 * Math.sin(timeS * 2.399),
  }
  it('says nothing without a barometer, which tells the weather apart, and disagrees with one', () => {
    expect(codesOf(secondGauge(madeView({ others: [absolute] })))).toEqual([])
    expect(codesOf(secondGauge(madeView({ others: [absolute, barometer] })))).toEqual(['gauges-disagree'])
  })
})

describe('supplyConnected() of sparse readings and of an unmarked pump-up', () => {
  it('one reading in two seconds: the mean of the first 15 s of the settle, in which 4 of 8 are higher (own figure)', () => {
    const higher = (share: number) =>
      codesOf(
        supplyConnected(madeView({ hz: 0.5, pa: (timeS, quiet) => quiet * (timeS < 78 ? 1 + share : 1) })),
      )
    // A fall of two thousandths of the test pressure counts.
    expect(higher(0.0033)).toEqual(['supply-not-excluded'])
    expect(higher(0.0047)).toEqual([])
  })
  it('a tank that was pumped up within six minutes before the settle: the heat left must show (own figure)', () => {
    /** At rest until 114 s, at half until shortly before the settle. */
    const settledAt = (settleS: number) =>
      codesOf(
        supplyConnected({
          ...madeView({
            section: { kind: 'tank', volumeM3: 0.1 },
            ventS: 1100,
            pa: (timeS, quiet) => quiet * (timeS < 114 ? 0.02 : timeS < settleS - 8 ? 0.5 : 1),
          }),
          pumpUpS: null,
          settleS,
        }),
      )
    expect(settledAt(470)).toEqual(['pressure-held-up'])
    expect(settledAt(480)).toEqual([])
  })
})

describe('temperatureFaults()', () => {
  it('of a full line counts half of what a kelvin does to fuel at 20 °C, as the caution before the hold', () => {
    const view = madeView({ section: { medium: 'avgas' } })
    const perK = Number(liquidCaution(view.section, view.spec, 293.15)?.values.rise_Pa_per_K)
    const { blocking } = temperatureFaults(view, false)
    expect(blocking.map(({ code }) => code)).toEqual(['no-temperature'])
    expect(blocking[0].values.share).toBeCloseTo((0.5 * perK) / allowedPa, 6)
  })
  it('of a thermometer in the air leaves out a twelfth of the hold without a reading', () => {
    const air = (timeS: number) => 293.15 + 0.4 * ((timeS - holdS) / 600) + 0.002 * Math.sin(timeS * 2.399)
    const found = (at: (timeS: number) => number | null) =>
      temperatureFaults(
        madeView({
          spec: { allow: { kind: 'drop', dropPa: 0.05 * testPa } },
          others: [{ channel: { measures: 'temperature', unit: 'degC', on: 'air' }, at }],
        }),
        true,
      ).cautions.map(({ code, values }) => [code, values.unseen_K])
    // Half of 11/12 of 0.4 K.
    const told = [['thermometer-in-air', expect.closeTo((0.5 * 0.4 * 11) / 12, 3)]]
    expect(found(air)).toEqual(told)
    expect(found((timeS) => (timeS > 268 && timeS < 325 ? null : air(timeS)))).toEqual(told)
  })
})
