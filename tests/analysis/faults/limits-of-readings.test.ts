import { describe, expect, it } from 'vitest'
import { gaugeReadings, isNoChance } from '#analysis/faults/gauge-readings.ts'
import { gaugeResponse } from '#analysis/faults/gauge-response.ts'
import { instrumentAdvice } from '#analysis/faults/instrument-advice.ts'
import { supplyConnected } from '#analysis/faults/supply-connected.ts'
import type { Channel } from '#analysis/model/system.ts'
import { codesOf, holdS, type Made, madeView, testPa, toldBy } from './made-hold.ts'

describe('gaugeReadings() of one reading repeated among others that are as still', () => {
  /** One value from the recording's start to a moment, or from a moment to the vent, and another beside it. */
  const found = (pa: Made['pa']) =>
    toldBy(gaugeReadings(madeView({ pa }))).map((one) => (one as unknown[])[1])
  it('counts where it lasts to within a tenth of the hold of the vent', () => {
    const until = (share: number) =>
      found((timeS) => (timeS < 770 - 600 * share ? 68_000 : timeS < 770 ? 68_100 : 0))
    expect([until(0.08), until(0.12)]).toEqual([['gauge-stuck'], []])
  })
  it('counts where it began by the start of the hold', () => {
    const from = (seconds: number) =>
      found((timeS) => (timeS < holdS + seconds ? 68_100 : timeS < 770 ? 68_000 : 0))
    expect([from(0), from(1)]).toEqual([['gauge-stuck'], []])
  })
  it('counts wherever it lies beside fewer than 30 others, unless the gauge rose and fell', () => {
    /** Each 15 s from so late on, 21 times one reading and at most 29 times another. */
    const among = (firstS: number) =>
      toldBy(
        gaugeReadings(
          madeView({
            hz: 1 / 15,
            pa: (timeS) => {
              if (timeS < firstS) return null
              const n = Math.round((timeS - 60) / 15)
              return timeS > 770 ? 0 : n >= 10 && n < 31 ? 68_000 : 68_000 + 100 * n
            },
          }),
        ),
      )
    const stuck = { section: 'line', channel: 'p-line', seconds: 300, still: 'pump-up' }
    expect(among(70)).toEqual([['void', 'gauge-stuck', stuck]])
  })
})

describe('gaugeReadings() of one reading from settle to vent', () => {
  const still = (made: Made) => toldBy(gaugeReadings(madeView(made))).map((one) => (one as unknown[])[2])
  it('takes a rise by more than a tenth of the test pressure as the life of the gauge (own figure)', () => {
    const rising = (share: number) =>
      still({ pa: (timeS) => (timeS < 66 ? 68_000 - share * testPa : timeS <= 770 ? 68_000 : 0) })
    expect([rising(0.08), rising(0.12)]).toMatchObject([[{ still: 'pump-up' }], []])
    const falling = (share: number) =>
      still({
        pa: (timeS) => (timeS < 66 ? 1000 * timeS : timeS < 772 ? 68_000 : 68_000 - share * testPa),
      })
    expect([falling(0.08), falling(0.12)]).toMatchObject([[{ still: 'vent' }], []])
  })
  it('does not learn its noise from readings that rise or fall before pump-up', () => {
    const rested = (rest: (timeS: number) => number) =>
      still({
        channel: { rangeSi: [0, 2e5] },
        endS: 1000,
        pa: (timeS) => (timeS < 60 ? rest(timeS) : timeS < 66 ? 0 : timeS <= 770 ? 68_000 : 0),
      })
    const jump = (timeS: number) => 1000 + 40 * ((timeS * 7) % 13)
    expect(rested(jump)).toMatchObject([{ still: 'livelier' }])
    expect(rested((timeS) => jump(timeS) + 100 * timeS)).toEqual([])
    expect(rested((timeS) => jump(timeS) + 100 * (60 - timeS))).toEqual([])
  })
  it('learns its noise from 30 readings in the minute before pump-up at 100 s, to a second before it', () => {
    const lively = (fromS: number, toS: number) => {
      const made = madeView({
        channel: { rangeSi: [0, 2e5] },
        endS: 780,
        pa: (timeS) => {
          if (timeS < 100) return timeS >= fromS && timeS < toS ? 1000 + 40 * ((timeS * 7) % 13) : null
          return timeS <= 770 ? 68_000 : 0
        },
      })
      return toldBy(gaugeReadings({ ...made, pumpUpS: 100, settleS: 108 })).map(
        (one) => (one as [string, string, { still: string }])[2].still,
      )
    }
    expect([lively(0, 55), lively(34, 70), lively(70, 100), lively(69, 100)]).toEqual([
      ...[['pump-up'], ['livelier'], ['pump-up'], ['livelier']],
    ])
  })
  it('is silent of readings that are no numbers', () => {
    expect(still({ pa: (timeS, quiet) => (timeS % 2 === 0 ? quiet : Number.NaN) })).toEqual([])
  })
})

it('isNoChance() allows a run by chance once in 1e9 holds (own figure)', () => {
  // Noise of √(Σ steps²/2n), 0.803 and 0.819 steps, repeats a code with 2Φ(1/2σ) − 1 = 0.4664 and 0.4584 at most: 32 times in a row
  // with 8.0e-10 among 32 readings and 1.16e-9 among 80.
  const pattern = [0, 1, 0, 1, 0, 1, 0, 1, 0, 1, 0, 1, 0, 1, 0, 2]
  const beside = (count: number) => Float64Array.from({ length: count }, (_, i) => pattern[i % 16])
  expect([32, 80].map((count) => isNoChance(32, beside(count), 1))).toEqual([true, false])
})

describe('a gauge counts as read by eye', () => {
  const byEye = (channel: Partial<Channel>, marks: Made['marks'] = []) => madeView({ channel, marks }).byEye
  const typed = (id: string | null, source = 'typed') => [{ kind: 'origin' as const, id, fields: { source } }]
  it('with at most 600 divisions to its span, or to the test pressure where it states no span (own figure)', () => {
    const dial = (divisions: number) => byEye({ rangeSi: [-1e5, 1e5], resolutionSi: 2e5 / divisions })
    const open = (divisions: number) => byEye({ resolutionSi: testPa / divisions })
    expect([dial(590), dial(610), open(590), open(610)]).toEqual([true, false, true, false])
  })
  it('where its readings were typed and its division is stated', () => {
    const fine = { resolutionSi: 1 }
    expect(byEye(fine, typed('p-line'))).toBe(true)
    expect(byEye({ ...fine, movable: { id: 'SN-1' } as never }, typed('SN-1'))).toBe(true)
    expect([
      byEye(fine),
      byEye(fine, typed('other')),
      byEye(fine, typed('p-line', 'serial')),
      byEye({}, typed('p-line')),
    ]).toEqual([false, false, false, false])
  })
})

describe('a spike of one reading in 700 is no pressure, two of them are', () => {
  const peak = (readings: number, high: number, low: number) => (timeS: number, quiet: number) =>
    timeS >= 100 && timeS < 100 + readings
      ? high * testPa
      : timeS < 770
        ? Math.min(quiet, low * testPa)
        : quiet
  it('in a hold that did not reach its pressure', () => {
    const reached = (readings: number) =>
      !codesOf(gaugeResponse(madeView({ pa: peak(readings, 1, 0.7) }), false)).includes(
        'pressure-not-reached',
      )
    expect([reached(1), reached(3)]).toEqual([false, true])
  })
  it('over the limit of the section', () => {
    const over = (readings: number) =>
      codesOf(
        instrumentAdvice(madeView({ section: { maxPressurePa: 1.1 * testPa }, pa: peak(readings, 1.3, 1) })),
      ).includes('over-max-pressure')
    expect([over(1), over(3)]).toEqual([false, true])
  })
})

describe('supplyConnected() needs enough to see', () => {
  it('a minute from settle to vent (own figure)', () => {
    const view = madeView({ hz: 4 })
    const last = (seconds: number) => codesOf(supplyConnected({ ...view, settleS: view.untilS - seconds }))
    expect([last(65), last(55)]).toEqual([['supply-not-excluded'], []])
  })
  it('four readings in each of 24 parts', () => {
    const each = (spacingS: number) => codesOf(supplyConnected(madeView({ hz: 1 / spacingS })))
    expect([each(7), each(9)]).toEqual([['supply-not-excluded'], []])
  })
  it('a fall of four times the noise of three readings', () => {
    const noisy = (timeS: number, quiet: number) => quiet + 150 * (((timeS * 4) % 11) / 5 - 1)
    const { noise } = madeView({ pa: noisy })
    const least = (4 * noise.std) / Math.sqrt(3)
    expect(least).toBeGreaterThan(0.003 * testPa)
    /** Higher until the settle is 30 s old. */
    const fallen = (times: number) =>
      codesOf(
        supplyConnected(
          madeView({
            pa: (timeS, quiet) => noisy(timeS, quiet) + (timeS < 100 && timeS >= 68 ? times * least : 0),
          }),
        ),
      )
    // The highest mean of three readings stands out of the noise by some of it.
    expect([fallen(0.4), fallen(1)]).toEqual([['supply-not-excluded'], []])
  })
})
