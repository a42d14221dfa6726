import { describe, expect, it } from 'vitest'
import { disturbedHold } from '#analysis/faults/disturbed-hold.ts'
import { gaugeReadings } from '#analysis/faults/gauge-readings.ts'
import { gaugeResponse } from '#analysis/faults/gauge-response.ts'
import type { GaugeView } from '#analysis/faults/gauge-view.ts'
import { instrumentAdvice } from '#analysis/faults/instrument-advice.ts'
import { samplingFaults } from '#analysis/faults/sampling.ts'
import { secondGauge } from '#analysis/faults/second-gauge.ts'
import { temperatureFaults } from '#analysis/faults/temperature.ts'
import { withUsableBarometers } from '#analysis/faults/usable-barometers.ts'
import type { Channel } from '#analysis/model/system.ts'
import { allowedPa, atmospherePa, holdS, type Made, madeView, quietPa, testPa, toldBy } from './made-hold.ts'

/** From 170 s to half a second before the vent at 770 s. */
const lengthS = 599.5
const gauge = { section: 'line', channel: 'p-line' }
const close = (value: number, digits = 6) => expect.closeTo(value, digits)
const sampled = (pa: Made['pa'], over: Partial<GaugeView> = {}, live = false) =>
  toldBy(samplingFaults({ ...madeView({ pa }), ...over }, live))
/** Without the readings between two moments, which are kept. */
const gap = (...between: readonly (readonly [number, number])[]): Made['pa'] => {
  return (timeS, quiet) => (between.some(([from, to]) => timeS > from && timeS < to) ? null : quiet)
}
const response = (pa: Made['pa'], over: Partial<GaugeView> = {}, made: Made = {}) =>
  toldBy(gaugeResponse({ ...madeView({ pa, ...made }), ...over }, false))
const readings = (pa: Made['pa'], made: Made = {}) => toldBy(gaugeReadings(madeView({ pa, ...made })))
const disturbed = (change: (timeS: number) => number) =>
  toldBy(disturbedHold(madeView({ pa: (timeS, quiet) => (timeS < 770 ? quiet + change(timeS) : quiet) })))

describe('samplingFaults(readings each second, one second of each silence being usual)', () => {
  const silent = (seconds: number, where: string) => [
    ['void', 'samples-missing', { ...gauge, seconds, hold_s: lengthS, where }],
  ]
  it('tells the longest silence, all of them, and the one at either end', () => {
    expect(sampled(gap([400, 540]))).toEqual(silent(139, 'in a row'))
    expect(sampled(gap([200, 281], [400, 481], [600, 681]))).toEqual(silent(240, 'in total'))
    expect(sampled(gap([160, 240]))).toEqual(silent(69, 'at the start'))
    expect(sampled(gap([698, 770]))).toEqual(silent(70.5, 'at the end'))
  })
  it('counts both ends among all silences: 69 + 110 + 50 of 599.5 s are too much, 69 + 90 + 50 are not in total', () => {
    expect(sampled(gap([160, 240], [400, 511], [718.5, 770]))).toEqual(silent(69 + 110 + 50.5, 'in total'))
    expect(sampled(gap([160, 240], [400, 491], [718.5, 770]))).toEqual(silent(69, 'at the start'))
  })
  it('tells how many readings there are, and waits for more of a dial while the hold runs', () => {
    const few = gap([180, 769.9])
    const told = (weight: string, least: number) => [
      [weight, 'too-few-samples', { ...gauge, readings: 11, least }],
    ]
    expect(sampled(few)).toEqual(told('void', 20))
    expect(sampled(few, {}, true)).toEqual(told('void', 20))
    expect(sampled(gap([178, 769.9]), { byEye: true }, true)).toEqual([
      ['blocks', 'too-few-samples', { ...gauge, readings: 9, least: 10 }],
    ])
    // Two readings a second: nine, and the last of the hold.
    expect(toldBy(samplingFaults(madeView({ hz: 2, pa: gap([174, 769.5]) }), false))).toEqual([
      ['void', 'too-few-samples', { ...gauge, readings: 10, least: 20 }],
    ])
  })
  it('says nothing of a gap that has fewer than ten readings on one side', () => {
    expect([sampled(gap([175, 190])), sampled(gap([751, 766]))]).toEqual([[], []])
  })
  it('takes a gap without a fall for a clock set forward, by its length', () => {
    const falls = (timeS: number, quiet: number) => {
      const into = timeS - holdS
      return into > 300 && into < 330 ? null : quiet - 2 * (into <= 300 ? into : into - 30)
    }
    expect(toldBy(samplingFaults(madeView({ pa: falls, endS: 900 }), false))).toEqual([
      ['void', 'clock-jumped', { how: 'forward', section: 'line', seconds: 30 }],
    ])
  })
})

describe('gaugeResponse() tells what the gauge did', () => {
  it('the share that was reached, and that was left at the start of the hold', () => {
    const reached = response((_, quiet) => 0.8 * quiet)
    expect(reached).toEqual([['void', 'pressure-not-reached', { section: 'line', share: close(0.8, 3) }]])
    expect(response((timeS, quiet) => (timeS > 165 ? 0.5 : 1) * quiet)).toEqual([
      ['blocks', 'pressure-lost-before-hold', { section: 'line', share: close(0.5, 3) }],
    ])
  })
  it('a rise by more than a twentieth to less than half is a pressure not reached', () => {
    expect(response((_, quiet) => 0.4 * quiet)).toEqual([
      ['void', 'pressure-not-reached', { section: 'line', share: close(0.4, 3) }],
    ])
    expect(response((_, quiet) => 0.01 * quiet)).toEqual([['void', 'no-pump-up-response', gauge]])
  })
  it('the section whose gauge rose instead, by more than half of the test pressure', () => {
    const beside = (share: number, channel: Partial<Channel> = {}) =>
      response(
        (_, quiet) => 0.01 * quiet,
        {},
        {
          others: [
            { channel: { section: 'beyond', ...channel }, at: (timeS) => share * quietPa(timeS, 770) },
          ],
        },
      )
    const wrong = { ...gauge, otherSection: 'beyond', otherChannel: 'other-0' }
    expect(beside(0.55)).toEqual([['void', 'wrong-channel', wrong]])
    expect(beside(0.45)).toEqual([['void', 'no-pump-up-response', gauge]])
    expect(beside(1, { measures: 'temperature' })).toEqual([['void', 'no-pump-up-response', gauge]])
    expect(beside(1, { section: null })).toEqual([['void', 'no-pump-up-response', gauge]])
    expect(beside(1, { section: 'line' })).toEqual([['void', 'no-pump-up-response', gauge]])
  })
  it('a vent that is not on record, and none of a gauge that went dead', () => {
    const ended = [['blocks', 'vent-not-recorded', { ...gauge, cause: 'ended' }]]
    expect(response((_, quiet) => quiet, { ventS: null })).toEqual(ended)
    const lively = (_: number, quiet: number) => Math.round(quiet + 40 * (quiet % 7))
    const dead = (timeS: number, quiet: number) => (timeS >= 770 ? 0 : lively(timeS, quiet))
    const long = { endS: 1000 }
    expect(response(dead, {}, long)).toEqual([['blocks', 'vent-not-recorded', { ...gauge, cause: 'dead' }]])
    expect(response(dead, { pumpUpS: null }, long)).toEqual([])
    expect(response(lively, {}, long)).toEqual([])
  })
  it('a gauge that lost its plug at the vent, and one that did not fall', () => {
    const ends = { channel: { rangeSi: [-1200, 198_800] as [number, number] } }
    const out = (timeS: number, quiet: number) => (timeS < 771 ? quiet : -1200)
    expect(response(out, {}, ends)).toEqual([['void', 'clipped', { ...gauge, end: 'plug' }]])
    expect(response(out, { pumpUpS: null }, ends)).toEqual([])
    expect(response((timeS, quiet) => (timeS < 770 ? quiet : testPa))).toEqual([
      ['void', 'no-vent-response', gauge],
    ])
  })
  it('no reading at all', () => {
    expect(response((timeS, quiet) => (timeS > 50 && timeS < 770 ? null : quiet))).toEqual([
      ['void', 'no-samples', gauge],
    ])
  })
  it('nothing of the vent of a hold that still runs', () => {
    expect(toldBy(gaugeResponse({ ...madeView(), ventS: null }, true))).toEqual([])
  })
})

describe('gaugeReadings() tells which readings no gauge gives', () => {
  const span = { channel: { rangeSi: [-1e4, 1.9e5] as [number, number] } }
  const at = (value: number, fromS: number, toS: number) => (timeS: number, quiet: number) =>
    timeS >= fromS && timeS < toS ? value : quiet
  it.each([
    ['upper', 'in the hold', at(1.9e5, 300, 312)],
    ['lower', 'in the hold', at(-1e4, 300, 312)],
    ['upper', 'in the settle', at(1.9e5, 100, 112)],
    ['lower', 'in the settle', at(-1e4, 100, 112)],
  ])('the %s end of its span, %s', (end, _, pa) => {
    expect(readings(pa, span)).toEqual([['void', 'clipped', { ...gauge, end }]])
  })
  it('nothing of a gauge without a span, or at its end before the settle and after the vent', () => {
    expect(readings(at(1.9e5, 300, 312))).toEqual([])
    expect(readings(at(1.9e5, 40, 70), span)).toEqual([])
    expect(readings(at(1.9e5, 770, 830), span)).toEqual([])
  })
  it('steps between two series, as a share of the test pressure', () => {
    expect(readings((timeS, quiet) => quiet + (timeS % 2) * 0.1 * testPa)).toEqual([
      ['void', 'readings-mixed', { ...gauge, share: close(0.1, 3) }],
    ])
  })

  /** Noise of tens of pascals, in whole ones. */
  const lively = (quiet: number): number => Math.round(quiet + 40 * (quiet % 7))
  const stuck = (seconds: number, still: string) => [['void', 'gauge-stuck', { ...gauge, seconds, still }]]
  it('one reading for 100 s of the hold', () => {
    expect(readings((timeS, quiet) => (timeS >= 300 && timeS <= 400 ? 68_000 : lively(quiet)))).toEqual(
      stuck(100, 'livelier'),
    )
  })
  it('one reading from settle to vent, by the noise at rest that is no end of the span', () => {
    const still = (timeS: number, rest: number) => (timeS < 70 ? rest : timeS < 770 ? 68_000 : 0)
    /** At rest lively before pump-up and at one end of its span for long after the vent. */
    const pinned = (sign: 1 | -1) =>
      readings(
        (timeS, quiet) =>
          sign * (timeS < 60 ? 1 + Math.abs(lively(quiet)) : timeS < 70 ? quiet : still(timeS, 0)),
        {
          endS: 1400,
          spec: { pressurePa: sign * testPa },
          channel: { rangeSi: sign > 0 ? [0, 2e5] : [-2e5, 0] },
        },
      )
    expect(pinned(1)).toEqual(stuck(699, 'livelier'))
    expect(pinned(-1)).toEqual(stuck(699, 'livelier'))
  })
})

describe('disturbedHold() tells when, and by how much', () => {
  const step = (pa: number) => (timeS: number) => (timeS > holdS + 300 ? pa : 0)
  it('pumping, a step, and gas let off', () => {
    const seconds = close(300, -1)
    expect(disturbed(step(0.01 * testPa))).toEqual([
      ['blocks', 'pumped-during-hold', { section: 'line', seconds }],
    ])
    expect(disturbed(step(-0.01 * testPa))).toEqual([
      ['blocks', 'pressure-stepped', { section: 'line', seconds }],
    ])
    expect(disturbed(step(-0.2 * testPa))).toEqual([
      ['void', 'let-off-during-hold', { section: 'line', share: close(0.2, 3), seconds: close(305, -1) }],
    ])
    // So late that there is no minute after it.
    expect(disturbed((timeS) => (timeS > holdS + 570 ? -0.2 * testPa : 0))).toEqual([
      ['void', 'let-off-during-hold', { section: 'line', share: close(0.2, 3), seconds: close(35, -1) }],
    ])
  })
})

describe('the other checks tell their figures', () => {
  it('instrumentAdvice(): the pressure, the limit and the date', () => {
    const advice = (made: Made) => toldBy(instrumentAdvice(madeView(made)))
    expect(advice({ section: { maxPressurePa: 50_000, maxVacuumPa: 1000 } })).toEqual([
      [
        'caution',
        'over-max-pressure',
        { section: 'line', pressure_Pa: close(testPa, -2), limit_Pa: 50_000, vacuum: false },
      ],
    ])
    expect(
      advice({
        section: { maxPressurePa: 1000, maxVacuumPa: 50_000 },
        spec: { pressurePa: -testPa },
        pa: (_, quiet) => -quiet,
      }),
    ).toEqual([
      [
        'caution',
        'over-max-pressure',
        { section: 'line', pressure_Pa: close(testPa, -2), limit_Pa: 50_000, vacuum: true },
      ],
    ])
    const broken = { measures: 'barometric-pressure', section: null, unit: 'hPa' } as const
    expect(advice({ others: [{ channel: broken, at: () => 20_000 }] })).toEqual([
      ['caution', 'barometer-implausible', {}],
    ])
    expect(advice({ channel: { calibration: { due: '2025-12-01' } as never } })).toEqual([
      ['caution', 'calibration-overdue', { channel: 'p-line', due: '2025-12-01', date: '2026-01-01' }],
    ])
  })
  it('secondGauge(): how far apart, in allowances', () => {
    const falls = (timeS: number) =>
      quietPa(timeS, 770) - (timeS > holdS ? ((timeS - holdS) / 600) * allowedPa : 0)
    const second = (channel: Partial<Channel>) =>
      toldBy(secondGauge(madeView({ others: [{ channel, at: falls }] })))
    expect(second({})).toEqual([
      [
        'blocks',
        'gauges-disagree',
        { section: 'line', channel: 'p-line', other: 'other-0', share: close(1, 1) },
      ],
    ])
    expect(
      toldBy(secondGauge(madeView({ others: [{ channel: {}, at: (timeS) => 0.3 * quietPa(timeS, 770) }] }))),
    ).toEqual([['caution', 'gauge-not-used', { section: 'line', channel: 'other-0' }]])
  })
  it('temperatureFaults(): what is unseen, for how long, and what it is worth', () => {
    // Half a kelvin is 0.5 · (p + p_b)/293.15 K of the pressure.
    const share = (0.5 * (testPa + atmospherePa)) / 293.15 / allowedPa
    const unseen = { section: 'line', unseen_K: 0.5, share: close(share, 9) }
    expect(toldBy(temperatureFaults(madeView(), false))).toEqual([
      ['blocks', 'no-temperature', { ...unseen, silent_s: null }],
    ])
    const thermometer = (at: (timeS: number) => number | null, made: Made = {}) =>
      toldBy(
        temperatureFaults(
          madeView({ ...made, others: [{ channel: { measures: 'temperature', unit: 'degC' }, at }] }),
          true,
        ),
      )
    const room = (timeS: number): number => 293.15 + 0.01 * Math.sin(timeS * 2.399)
    expect(thermometer((timeS) => (timeS > 300 && timeS < 500 ? null : room(timeS)))).toEqual([
      ['blocks', 'no-temperature', { ...unseen, silent_s: 200 }],
    ])
    expect(thermometer(() => 293.15)).toEqual([
      ['blocks', 'thermometer-still', { ...unseen, channel: 'other-0', coarse: false }],
    ])
    const loose = { spec: { allow: { kind: 'drop' as const, dropPa: 5000 } } }
    expect(thermometer(() => 293.15, loose)).toEqual([
      [
        'caution',
        'thermometer-still',
        { section: 'line', channel: 'other-0', unseen_K: 0.5, coarse: false, share: null },
      ],
    ])
    expect(toldBy(temperatureFaults(madeView(loose), false))).toEqual([
      ['caution', 'temperature-not-measured', { section: 'line', silent_s: null, unseen_K: 0.5 }],
    ])
  })
  it('withUsableBarometers(): which one is left out, for how long it was silent', () => {
    const air = (timeS: number) => atmospherePa + 3 * Math.sin(timeS * 2.399)
    const heard = (at: (timeS: number) => number | null) => {
      const { recording, system } = madeView({
        others: [{ channel: { measures: 'barometric-pressure', section: null, unit: 'hPa' }, at }],
      })
      const { faults, recording: left } = withUsableBarometers(recording, system, holdS, 770)
      return [toldBy(faults), left.channels.map(({ channel }) => channel)]
    }
    expect(heard(air)).toEqual([[], ['p-line', 'other-0']])
    expect(heard((timeS) => (timeS > 300 && timeS < 500 ? null : air(timeS)))).toEqual([
      [['caution', 'barometer-silent', { channel: 'other-0', seconds: 200 }]],
      ['p-line'],
    ])
    expect(heard(() => atmospherePa)).toEqual([
      [['caution', 'barometer-still', { channel: 'other-0' }]],
      ['p-line'],
    ])
  })
})
