import { describe, expect, it } from 'vitest'
import { disturbedHold } from '#analysis/faults/disturbed-hold.ts'
import type { Faults } from '#analysis/faults/fault.ts'
import { gaugeReadings } from '#analysis/faults/gauge-readings.ts'
import { gaugeResponse } from '#analysis/faults/gauge-response.ts'
import { gaugeAdvice, instrumentAdvice } from '#analysis/faults/instrument-advice.ts'
import { liquidCaution } from '#analysis/faults/liquid-caution.ts'
import { samplingFaults } from '#analysis/faults/sampling.ts'
import { secondGauge } from '#analysis/faults/second-gauge.ts'
import { supplyConnected } from '#analysis/faults/supply-connected.ts'
import { temperatureFaults, thermometerStill } from '#analysis/faults/temperature.ts'
import { withUsableBarometers } from '#analysis/faults/usable-barometers.ts'
import type { Channel } from '#analysis/model/system.ts'
import { allowedPa, codesOf as codes, holdS, type Made, madeView, testPa } from './made-hold.ts'

const barometer: Partial<Channel> = { measures: 'barometric-pressure', section: null, unit: 'hPa' }
const thermometer: Partial<Channel> = { measures: 'temperature', unit: 'degC' }

/** A channel that reads one value in the first part of the hold, and then a value for each run of so many seconds. */
const stillThen =
  (still: number, run: number, step: number, steps = 7) =>
  (timeS: number) => {
    const into = timeS - holdS - 1
    if (into < 0) return 101_325 - step * (1 + (Math.floor(timeS / run) % steps))
    return into < still ? 101_325 : 101_325 + step * (1 + (Math.floor((into - still) / run) % steps))
  }
const barometerOf = (at: (timeS: number) => number | null): Faults => {
  const { recording, system } = madeView({ others: [{ channel: barometer, at }] })
  return withUsableBarometers(recording, system, holdS, 770).faults
}
/** So many equal readings, spread over the whole hold, and no others. */
const spread = (count: number) => (timeS: number) => {
  const n = (timeS - holdS) / Math.floor(600 / (count - 1))
  return Number.isInteger(n) && n >= 0 && n < count ? 101_325 : null
}

const still = (reading: readonly number[], timeS = reading.map((_, i) => i)): boolean =>
  thermometerStill(Float64Array.from(timeS), Float64Array.from(reading), 60, 660)
/** Readings once a second: before the hold, in its 600 s, and after it. */
const room = (before: (s: number) => number, hold: (s: number) => number): number[] =>
  Array.from({ length: 700 }, (_, s) => (s < 60 ? before(s) : s < 660 ? hold(s - 60) : hold(599)))

describe('a thermometer is still only beyond each limit (own figures)', () => {
  const rows: readonly (readonly [
    what: string,
    readings: (x: number) => boolean,
    yes: number,
    no: number,
  ])[] = [
    [
      '30 readings',
      (x) =>
        still(
          Array(x).fill(293),
          Array.from({ length: x }, (_, i) => 61 + (590 * i) / x),
        ),
      30,
      29,
    ],
    [
      'eight times as long as any other run',
      (x) =>
        still(
          room(
            () => 290,
            (s) => (s < x ? 293 : 293 + 0.01 * (1 + (Math.floor((s - x) / 20) % 7))),
          ),
        ),
      180,
      155,
    ],
    [
      'steps below 0.04 K elsewhere, when it stood still throughout',
      (x) =>
        still(
          room(
            (s) => 293 + x * (s % 2),
            () => 293 + 3 * x,
          ),
        ),
      0.03,
      0.05,
    ],
    [
      'a change of 5 K and more is an error code',
      (x) =>
        still(
          room(
            (s) => (s < 5 ? 293 - x : 293),
            () => 293,
          ),
        ),
      6,
      4,
    ],
    [
      'a coarse one between two steps follows the room',
      (x) =>
        still(
          room(
            () => 293,
            (s) => (s < 400 ? 293 : 293 + 0.0625 * (s % x)),
          ),
        ),
      3,
      2,
    ],
  ]
  it.each(rows)('%s', (_, readings, yes, no) => {
    expect(readings(yes)).toBe(true)
    expect(readings(no)).toBe(false)
  })
  it('compares a run that all but fills the hold with the runs before and after it', () => {
    const before = (run: number) =>
      still(
        room(
          (s) => 290 + 0.01 * Math.floor(s / run),
          (s) => (s < 580 ? 293 : 293.01),
        ),
      )
    expect(before(2)).toBe(true)
    // The run goes on before the hold, so that no other run of 60 s is there to compare.
    expect(
      still(
        room(
          () => 293,
          (s) => (s < 580 ? 293 : 293.01),
        ),
      ),
    ).toBe(true)
  })
  it('counts no run before the hold that the long one goes on from: 100 s of it would be too near to 580', () => {
    const reading = Float64Array.from({ length: 740 }, (_, s) => (s < 680 ? 293 : 293.01))
    const timeS = reading.map((_, s) => s)
    expect(thermometerStill(timeS, reading, 100, 700)).toBe(true)
  })
  it('a hold with steps of 0.04 K that moved only at its end is a quiet room', () => {
    const moved = (step: number) =>
      still(
        room(
          (s) => 293 + step * (s % 3),
          (s) => (s < 580 ? 293 : 293 + step * (1 + (s % 2))),
        ),
      )
    expect(moved(0.03)).toBe(true)
    expect(moved(0.05)).toBe(false)
  })
})

/** A hold that falls evenly and stops for a gap, over which it falls by a share of what is expected. */
const acrossGap = (perS: number, gapS: number, share: number, steeper = 1): Faults =>
  samplingFaults(
    madeView({
      endS: 900,
      pa: (timeS, quiet) => {
        const into = timeS - holdS
        if (into > 300 && into < 300 + gapS) return null
        return into <= 300
          ? quiet - steeper * perS * into
          : quiet - perS * (steeper * 300 + share * gapS * ((1 + steeper) / 2) + into - 300 - gapS)
      },
    }),
    false,
  )
/** Of every nine seconds one gap of so many, and the rest read each second. */
const gappy = (gapS: number): Faults =>
  samplingFaults(
    madeView({ pa: (timeS, quiet) => (timeS > holdS && timeS % (gapS + 3) < gapS - 1 ? null : quiet) }),
    false,
  )
/** A tank that read more at the end of pumping, and from the fourth block on is constant. */
const after = (share: number, parts: Made = {}): Faults =>
  supplyConnected(
    madeView({
      ...parts,
      pa: (timeS, quiet) => quiet * (timeS < 110 ? 1 + share * Math.min(1, (110 - timeS) / 30) : 1),
    }),
  )
const tank: Made = { section: { kind: 'tank', volumeM3: 0.1 } }
/** A tank that stood at a share of the test pressure from pump-up to a moment, and then was pumped up within 8 s. */
const pumpedSlowly = (share: number, untilS: number, settleS: number): Faults =>
  supplyConnected(
    madeView({
      ...tank,
      settleS,
      ventS: 900,
      pa: (timeS, quiet) => {
        if (timeS < 60) return quiet
        if (timeS < untilS) return share * testPa
        return quiet * Math.min(1, Math.max(share, (timeS - untilS) / 8))
      },
    }),
  )
/** A constant pressure beside a thermometer that falls evenly by so many kelvin over the hold. */
const cooling = (kelvin: number, parts: Made = {}, flicker = (_: number) => 0): Faults =>
  supplyConnected(
    madeView({
      ...parts,
      others: [
        {
          channel: thermometer,
          at: (timeS) => 293.15 - (kelvin * (timeS - holdS)) / 600 + flicker(timeS),
        },
      ],
    }),
  )
const stepThen = (stepPa: number, more: (sinceS: number) => number) => (timeS: number, quiet: number) =>
  timeS > holdS + 300 && timeS < 770 ? quiet - stepPa - more(timeS - holdS - 300) : quiet
/** A gauge without noise but for a flicker of 3 Pa, beside one that falls by so much more. */
const beside = (morePa: number): Faults => {
  const flicker = (timeS: number) => testPa * Math.min(1, Math.max(0, (timeS - 60) / 8)) + 3 * (-1) ** timeS
  return secondGauge(
    madeView({
      spec: { allow: { kind: 'drop', dropPa: 0.01 } },
      pa: flicker,
      others: [{ channel: {}, at: (timeS) => flicker(timeS) - (morePa * (timeS - holdS)) / 600 }],
    }),
  )
}
const equalFor = (count: number, other: number) => (timeS: number, quiet: number) => {
  const n = timeS - holdS - 100
  if (n >= 0 && n < count) return 68_000
  // Runs of equal readings of the given length, lively by tens of steps.
  return n >= 300 && n < 300 + other ? 68_500 : Math.round(quiet + 40 * (quiet % 7))
}

type Row = readonly [code: string, what: string, found: (x: number) => Faults, told: number, silent: number]
const rows: readonly Row[] = [
  ['barometer-still', '20 equal readings', (x) => barometerOf(spread(x)), 20, 19],
  ['barometer-still', 'eight times as long', (x) => barometerOf(stillThen(x, 20, 3)), 180, 155],
  ['barometer-still', 'steps below 15 Pa', (x) => barometerOf(stillThen(300, 3, x)), 13, 17],
  ['clock-jumped', 'a gap of a fiftieth of the hold', (x) => acrossGap(2, x, 0), 15, 11],
  ['clock-jumped', 'a fall below 30 % of the expected', (x) => acrossGap(2, 30, x), 0.25, 0.35],
  ['clock-jumped', 'and a rise', (x) => acrossGap(-2, 30, x), 0.25, 0.35],
  [
    'supply-not-excluded',
    'one step of a coarse gauge is no fall',
    (x) =>
      supplyConnected(
        madeView({
          channel: { resolutionSi: 200 },
          pa: (timeS, quiet) => 200 * Math.round(quiet / 200 + (timeS < 75 ? x : 0)),
        }),
      ),
    1,
    2,
  ],
  // The noise of ±6 Pa over two stretches of 120 readings, a third of them independent: 1.56 Pa.
  ['clock-jumped', 'six standard errors', (x) => acrossGap((x * 1.56) / 15, 15, 0), 7.5, 4.5],
  ['clock-jumped', 'equally steep within a factor of three', (x) => acrossGap(2, 30, 0, x), 2.7, 3.3],
  ['samples-missing', 'a gap is four usual ones', (x) => gappy(x), 5, 4],
  ['supply-not-excluded', 'a line falls by two thousandths', (x) => after(x), 0.0017, 0.0024],
  [
    'supply-not-excluded',
    // 21 of 24 parts of an even rise spread by 0.26 of it: 69 Pa.
    'a spread of half of that',
    (x) =>
      supplyConnected(
        madeView({
          pa: (timeS, quiet) => quiet + (timeS > 77 && timeS < 770 ? (x * (timeS - 77)) / 693 : 0),
        }),
      ),
    240,
    290,
  ],
  ['pressure-held-up', 'a tank falls by two thousandths', (x) => after(x, tank), 0.0017, 0.0024],
  ['pressure-held-up', 'heat left at the settle', (x) => after(0, { ...tank, settleS: 68 + x }), 86, 92],
  // Up at 130 s after a minute at 80 %: a longer pump-up leaves less heat.
  ['pressure-held-up', 'heat left since 95 % were reached', (x) => pumpedSlowly(0.8, 122, x), 188, 198],
  ['pressure-held-up', 'a pump-up begins at a tenth', (x) => pumpedSlowly(x, 100, 188), 0.085, 0.115],

  // spread of 15 of 24 blocks against five standard errors of a block of 26 readings, (p + p_b)/T a kelvin.
  ['pressure-held-up', 'half of what a line shows', (x) => cooling(x), 0.0155, 0.0118],
  [
    'pressure-held-up',
    'a tenth of what a tank shows',
    (x) => cooling(x, { ...tank, settleS: 165 }),
    0.097,
    0.074,
  ],
  [
    'pressure-held-up',
    'five times the jitter of a thermometer that falls by 0.2 K',
    (x) => cooling(0.2, {}, (timeS) => x * (-1) ** Math.floor(((timeS - 72) / 697.5) * 24)),
    0.021,
    0.026,
  ],
  [
    'let-off-during-hold',
    'within a minute',
    (x) =>
      disturbedHold(
        madeView({ pa: stepThen(0.025 * testPa, (s) => Math.min(0.008, (0.008 * s) / x) * testPa) }),
      ),
    62,
    110,
  ],
  [
    'pressure-stepped',
    'and stays there within 30 %',
    (x) =>
      disturbedHold(
        madeView({ pa: stepThen(0.01 * testPa, (s) => 0.01 * testPa * Math.min(x, (x * s) / 50)) }),
      ),
    0.31,
    0.41,
  ],
  // The slope of a flicker of 3 Pa in 600 readings, a third of them independent: 1.04 Pa over the hold for the two.
  ['gauges-disagree', 'four standard errors', beside, 4.6, 3.6],
  ['gauge-stuck', 'eight times as long', (x) => gaugeReadings(madeView({ pa: equalFor(x, 5) })), 45, 36],
  [
    'clipped',
    'the zero was clear of the end by half a percent of the span',
    (x) =>
      gaugeResponse(
        madeView({
          channel: { rangeSi: [-x * 2e5, (1 - x) * 2e5] },
          pa: (timeS, quiet) => (timeS < 771 ? quiet : -x * 2e5),
        }),
        false,
      ),
    0.006,
    0.0042,
  ],
  [
    'no-vent-response',
    'what was left in most of the last minute',
    (x) =>
      gaugeResponse(
        madeView({
          pa: (timeS, quiet) => (timeS < 770 - x ? quiet : (timeS < 770 ? 0.2 : 0.12) * testPa),
        }),
        false,
      ),
    34,
    26,
  ],
  [
    'gauge-span-large',
    'an absolute gauge may span an atmosphere more',
    (x) =>
      instrumentAdvice(
        madeView({ channel: { measures: 'absolute-pressure', rangeSi: [0, 101_325 + x * testPa] } }),
      ),
    3.2,
    2.9,
  ],
]

describe('a check of long stretches tells just beyond its limit and is silent just before it (limits as in the source, own figures)', () => {
  it.each(rows)('%s: %s', (code, _, found, told, silent) => {
    expect(codes(found(told))).toContain(code)
    expect(codes(found(silent))).not.toContain(code)
  })
})

describe('gaugeAdvice(at its published limits: span 33 CFR 183.542, resolution and accuracy ASTM E2930)', () => {
  const at = (channel: Partial<Channel>, stepPa = 0): string[] => {
    const [gauge] = madeView({ channel }).system.channels
    return gaugeAdvice(gauge, testPa, allowedPa, stepPa).flatMap(codes)
  }
  it('says nothing of a gauge exactly at each limit', () => {
    expect(at({ rangeSi: [0, 3 * testPa], accuracySi: allowedPa / 4 }, allowedPa / 10)).toEqual([])
  })
  it('counts the end of the span that is further from zero', () => {
    expect(at({ rangeSi: [-3.2 * testPa, testPa] })).toEqual(['gauge-span-large'])
  })
})

describe('instrumentAdvice(a gauge with a date of calibration)', () => {
  it('is overdue from the day after', () => {
    // The made hold begins on 1 January 2026.
    const due = (date: string) =>
      codes(instrumentAdvice(madeView({ channel: { calibration: { due: date } as never } })))
    expect(due('2025-12-31')).toContain('calibration-overdue')
    expect(due('2026-01-01')).not.toContain('calibration-overdue')
  })
})

describe('temperatureFaults(a thermometer that is still)', () => {
  const of = (resolutionSi: number | null, allow = allowedPa) =>
    temperatureFaults(
      madeView({
        spec: { allow: { kind: 'drop', dropPa: allow } },
        others: [{ channel: { ...thermometer, resolutionSi }, at: () => 293.15 }],
      }),
      true,
    )
  it('bars a pass where half a kelvin counts, and is a caution where it does not', () => {
    expect(codes({ ...of(null), voids: [], cautions: [] })).toEqual(['thermometer-still'])
    expect(codes({ ...of(null, 2000), voids: [], blocking: [] })).toEqual(['thermometer-still'])
  })
  it('trusts one with stated steps of 0.04 K or more that never moved', () => {
    expect(codes({ ...of(0.045), voids: [], blocking: [] })).toEqual(['thermometer-still'])
    expect(codes({ ...of(0.035), voids: [], cautions: [] })).toEqual(['thermometer-still'])
  })
})

describe('liquidCaution(a closed line full of fuel)', () => {
  const { spec } = madeView()
  const of = (maxPressurePa: number | null) => {
    const [line] = madeView({ section: { medium: 'avgas', maxPressurePa } }).system.sections
    return liquidCaution(line, spec)
  }
  const perK = Number(of(null)?.values.rise_Pa_per_K)
  it('rises by about a megapascal a kelvin: 0.1 % of expansion against a stiffness of 1 GPa (common practice)', () => {
    expect(of(null)?.code).toBe('liquid-full-overpressure')
    const [line] = madeView({ section: { medium: 'avgas' } }).system.sections
    // At 20 °C where nothing is known.
    expect(liquidCaution(line, spec, 293.15)?.values.rise_Pa_per_K).toBe(perK)
    expect(perK).toBeGreaterThan(5e5)
    expect(perK).toBeLessThan(1.5e6)
  })
  it('tells the kelvins that are left to its limit, and that the sun brings five (common practice)', () => {
    const left = (kelvin: number) => of(testPa + kelvin * perK)?.values
    expect(left(4.6)?.room_K).toBeCloseTo(4.6, 9)
    expect([left(4.6)?.sunlit, left(5.4)?.sunlit, of(null)?.values.sunlit]).toEqual([true, false, false])
    expect(of(0.5 * testPa)?.values.room_K).toBe(0)
  })
  it('says nothing of a gas', () => {
    expect(liquidCaution(madeView().system.sections[0], spec)).toBeNull()
  })
})
