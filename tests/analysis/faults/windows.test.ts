import { describe, expect, it } from 'vitest'
import { disturbedHold } from '#analysis/faults/disturbed-hold.ts'
import { isNoChance } from '#analysis/faults/gauge-readings.ts'
import { gaugeResponse } from '#analysis/faults/gauge-response.ts'
import type { GaugeView } from '#analysis/faults/gauge-view.ts'
import { secondGauge } from '#analysis/faults/second-gauge.ts'
import { supplyConnected } from '#analysis/faults/supply-connected.ts'
import type { Channel } from '#analysis/model/system.ts'
import { atmospherePa, codesOf, holdS, type Made, madeView, quietPa, testPa } from './made-hold.ts'

const response = (made: Made, over: Partial<GaugeView> = {}) =>
  codesOf(gaugeResponse({ ...madeView(made), ...over }, false))
/** The test pressure, lost in one stretch of the hold to half. */
const lostUntil =
  (toS: number, fromS = 0) =>
  (timeS: number, quiet: number) =>
    timeS >= fromS && timeS < toS && timeS >= 100 ? 0.5 * quiet : quiet

describe('gaugeResponse() takes the pressure at the start of the hold as the median of its first moments (own figures)', () => {
  const lost = (made: Made) => response(made).includes('pressure-lost-before-hold')
  it('of a fiftieth of the hold: 12 of 600 s', () => {
    expect([5, 7].map((seconds) => lost({ pa: lostUntil(holdS + seconds) }))).toEqual([false, true])
  })
  it('of five seconds of a short hold', () => {
    const short = (seconds: number) => lost({ ventS: 320, pa: lostUntil(holdS + seconds) })
    expect([2, 3].map(short)).toEqual([false, true])
  })
  it('of one and a half times the usual spacing, the higher of two', () => {
    // Readings at 180 and 210 s: two within 45 s; at 180 and 198 s: one within 27 s.
    const sparse = (spacingS: number) => lost({ hz: 1 / spacingS, pa: lostUntil(185) })
    expect([30, 18].map(sparse)).toEqual([false, true])
  })
})

describe('gaugeResponse() reads the gauge at rest in the minute before pump-up, to half a second before it', () => {
  /** A gauge that reads 40 % of the test pressure all the time: at rest as well, where that is on record. */
  const restless = (fromS: number, untilS = 60, made: Made = {}, over: Partial<GaugeView> = {}) =>
    response(
      {
        ...made,
        pa: (timeS) =>
          timeS < (over.pumpUpS ?? 60) && (timeS < fromS || timeS >= untilS) ? null : 0.4 * testPa,
      },
      over,
    )[0]
  it('three readings show it, two do not', () => {
    expect([57, 58].map((fromS) => restless(fromS))).toEqual(['no-pump-up-response', 'pressure-not-reached'])
  })
  it('from a minute before', () => {
    expect(restless(0, 18)).toBe('no-pump-up-response')
    expect(restless(0, 18, {}, { pumpUpS: 80 })).toBe('pressure-not-reached')
    expect(restless(0, 28, {}, { pumpUpS: 80 })).toBe('no-pump-up-response')
  })
  it('to half a second before', () => {
    // Ten readings a second from 59.2 s on: three to 59.5 s.
    expect(restless(59.2, 60, { hz: 10 })).toBe('no-pump-up-response')
    expect(restless(59.3, 60, { hz: 10 })).toBe('pressure-not-reached')
  })
})

it('gaugeResponse() asks for a rise only below half of the test pressure (own figure)', () => {
  const constant = (share: number) => response({ pa: () => share * testPa })[0]
  expect([constant(0.45), constant(0.55)]).toEqual(['no-pump-up-response', 'pressure-not-reached'])
})

it('gaugeResponse() of readings 30 s apart takes the middle of the last three as what was left at the vent', () => {
  /** At a fifth for so long before the vent, and then at an eighth. */
  const fallen = (seconds: number) =>
    response({
      hz: 1 / 30,
      endS: 1000,
      pa: (timeS, quiet) => (timeS < 770 - seconds ? quiet : (timeS < 770 ? 0.2 : 0.12) * testPa),
    }).includes('no-vent-response')
  expect([fallen(55), fallen(25)]).toEqual([true, false])
})

describe('gaugeResponse() looks for the gauge that rose instead', () => {
  const beside = (at: (timeS: number) => number | null, over: Partial<GaugeView> = {}) =>
    response({ pa: (_, quiet) => 0.01 * quiet, others: [{ channel: { section: 'beyond' }, at }] }, over)
  it('in the mean of the first 30 s of the settle (own figure)', () => {
    const until = (seconds: number) => beside((timeS) => (timeS >= 62 && timeS < 70 + seconds ? testPa : 0))
    expect([until(12), until(18)]).toEqual([['no-pump-up-response'], ['wrong-channel']])
  })
  it('against its mean at rest', () => {
    const from = (rest: number) => beside((timeS) => (timeS < 60 ? rest : 0.8) * testPa)
    expect([from(0.35), from(0.25)]).toEqual([['no-pump-up-response'], ['wrong-channel']])
    const early = (toS: number, pumpUpS: number) =>
      beside((timeS) => (timeS < toS ? 0.7 * testPa : timeS < pumpUpS ? null : 0.8 * testPa), { pumpUpS })
    expect([early(18, 60), early(18, 80)]).toEqual([['no-pump-up-response'], ['wrong-channel']])
    /** Its only reading at rest so late. */
    const late = (atS: number) =>
      response({
        hz: 10,
        pa: (_, quiet) => 0.01 * quiet,
        others: [
          {
            channel: { section: 'beyond' },
            at: (timeS) => (timeS === atS ? 0.7 * testPa : timeS < 60 ? null : 0.8 * testPa),
          },
        ],
      })
    expect([late(59.5), late(59.6)]).toEqual([['no-pump-up-response'], ['wrong-channel']])
  })
})

describe('gaugeResponse() calls a plug pulled out where the zero was clear of the end of the span', () => {
  const pulled = (lowPa: number, made: Made) =>
    response({
      ...made,
      channel: { rangeSi: [-lowPa, 1e5 - lowPa], ...made.channel },
      pa: (timeS, quiet) => (timeS < 771 ? (made.pa?.(timeS, quiet) ?? quiet) : -lowPa),
    }).includes('clipped')
  it('by four steps', () => {
    const steps = (count: number) => pulled(400 * count, { channel: { resolutionSi: 400 } })
    expect([4.5, 3.5].map(steps)).toEqual([true, false])
  })
  it('by four times its noise', () => {
    const noisy: Made = { pa: (timeS, quiet) => quiet + 600 * (((timeS * 7919) % 11) / 5 - 1) }
    const { std } = madeView(noisy).noise
    // Beyond half a percent of the span by either count.
    expect(std).toBeGreaterThan(500 / 2.6)
    // The median of the readings at rest lies within a tenth of the noise.
    expect([4.6, 3.4].map((count) => pulled(count * std, noisy))).toEqual([true, false])
  })
})

it('isNoChance() needs 30 readings beside the run (own figure)', () => {
  const lively = (count: number) => Float64Array.from({ length: count }, (_, i) => 10 * ((i * 7) % 13))
  expect([30, 29].map((count) => isNoChance(200, lively(count), 1))).toEqual([true, false])
})

describe('disturbedHold() of a pressure that falls by 20 Pa a second all along', () => {
  /** A step down by a share of the test pressure, 300 s into the hold. */
  const share = (step: number, backS = 600) => {
    const [reason] = disturbedHold(
      madeView({
        pa: (timeS, quiet) => {
          const into = timeS - holdS
          if (into < 0 || timeS >= 770) return quiet
          return quiet - 20 * into - (into > 300 && into < 300 + backS ? step * testPa : 0)
        },
      }),
    ).voids
    return Number(reason?.values.share)
  }
  it('tells what was let off from the middle of 12 to 4 s before to that of the last 4 s of the next minute: 66 s', () => {
    expect(share(0.2)).toBeCloseTo(0.2 + (66 * 20) / testPa, 4)
  })
})

describe('secondGauge() takes a gauge as on the section by the mean of the first 10 s of the hold', () => {
  const used = (seconds: number) =>
    !codesOf(
      secondGauge(
        madeView({
          others: [
            { channel: {}, at: (timeS) => quietPa(timeS, 770) * (timeS >= holdS + seconds ? 0.2 : 1) },
          ],
        }),
      ),
    ).includes('gauge-not-used')
  it('which is 0.44 of the test pressure with 3 s of it, and 0.52 with 4 s', () => {
    expect([3, 4].map(used)).toEqual([false, true])
  })
  it('and says nothing of one with fewer than ten readings in the hold', () => {
    const few = (untilS: number) =>
      codesOf(
        secondGauge(
          madeView({
            others: [
              {
                channel: {},
                at: (timeS) =>
                  timeS <= untilS ? quietPa(timeS, 770) - 500 * Math.max(0, timeS - holdS) : null,
              },
            ],
          }),
        ),
      )
    expect([few(holdS + 8), few(holdS + 9)]).toEqual([[], ['gauges-disagree']])
  })
  it('against its rest in the minute before pump-up', () => {
    const rested = (rest: number, toS: number, pumpUpS = 60) =>
      codesOf(
        secondGauge({
          ...madeView({
            others: [
              {
                channel: {},
                at: (timeS) => (timeS < toS ? rest * testPa : timeS < pumpUpS ? null : quietPa(timeS, 770)),
              },
            ],
          }),
          pumpUpS,
        }),
      )
    expect([rested(0.45, 60), rested(0.55, 60)]).toEqual([[], ['gauge-not-used']])
    expect([rested(0.7, 18), rested(0.7, 18, 80)]).toEqual([['gauge-not-used'], []])
  })
})

describe('supplyConnected() of a gauge with steps of 200 Pa beside a thermometer that cools by 2 K', () => {
  /** So many of the last 21 of 24 blocks one level higher. */
  const held = (levels: number, blocks: number) =>
    codesOf(
      supplyConnected(
        madeView({
          channel: { resolutionSi: 200 },
          pa: (timeS, quiet) => {
            if (timeS < 68 || timeS >= 770) return quiet
            const block = Math.floor(((timeS - 72) / 697.5) * 24)
            return 69_000 + (block >= 3 && block % 2 === 1 && (block - 3) / 2 < blocks ? 200 * levels : 0)
          },
          others: [
            {
              channel: { measures: 'temperature', unit: 'degC' },
              at: (timeS) => 293.15 - (2 * (timeS - holdS)) / 600,
            },
          ],
        }),
      ),
    ).includes('pressure-held-up')
  it('calls it constant to twice 0.3 of a step: 10 of 21 blocks by one step (102 Pa), not 3 by two steps (143 Pa)', () => {
    expect([held(1, 10), held(2, 3)]).toEqual([true, false])
  })
})

describe('supplyConnected() of a constant gauge beside a barometer', () => {
  /** The atmosphere rises evenly by so much over the hold. */
  const rising = (pa: number, channel: Partial<Channel> = {}, offPa = 0) =>
    codesOf(
      supplyConnected(
        madeView({
          channel,
          pa: (_, quiet) => quiet + offPa,
          others: [
            {
              channel: { measures: 'barometric-pressure', section: null, unit: 'hPa' },
              at: (timeS) => atmospherePa + (pa * (timeS - holdS)) / 600,
            },
          ],
        }),
      ),
    )
  // As a thermometer that falls by 0.0155 and 0.0118 K, at 580.8 Pa a kelvin.
  it('expects the gauge to fall as the atmosphere rises: half of 9 Pa is missed, half of 6.9 Pa is noise', () => {
    expect(rising(9)).toEqual(['pressure-held-up'])
    expect(rising(6.9)).not.toContain('pressure-held-up')
    // A leak may hide the rise that a falling atmosphere brings.
    expect(rising(-9)).not.toContain('pressure-held-up')
  })
  it('of an absolute gauge it expects nothing: its gas does not feel the weather', () => {
    expect(rising(9, { measures: 'absolute-pressure' }, atmospherePa)).not.toContain('pressure-held-up')
  })
})

describe('supplyConnected() beside a thermometer that falls', () => {
  const beside = (degrees: (timeS: number) => number, higherUntilS = 0) =>
    codesOf(
      supplyConnected(
        madeView({
          pa: (timeS, quiet) => quiet * (timeS < higherUntilS ? 1.0015 : 1),
          others: [
            { channel: { measures: 'temperature', unit: 'degC' }, at: (timeS) => 293.15 + degrees(timeS) },
          ],
        }),
      ),
    ).includes('pressure-held-up')
  const evenly = (timeS: number) => (-2 * (timeS - holdS)) / 600
  it('leaves out three of 24 parts, 87 s, in which the pumping may show (own figure)', () => {
    expect([beside(evenly, 150), beside(evenly, 180)]).toEqual([true, false])
  })
  it('and takes the thermometer after nine of them, 262 s, in which it may be warm (own figure)', () => {
    const between = (fromS: number, toS: number) =>
      beside((timeS) => -2 * Math.min(1, Math.max(0, (timeS - fromS) / (toS - fromS))))
    expect([between(250, 330), between(340, 415)]).toEqual([false, true])
  })
})
