import { describe, expect, it } from 'vitest'
import type { HoldCurves } from '#analysis/model/hold-result.ts'
import type { HoldSpec, Section } from '#analysis/model/system.ts'
import { normalCdf, z95 } from '#analysis/numeric/normal-distribution.ts'
import { studentTQuantile } from '#analysis/numeric/student-t.ts'
import { allowedRateOf, eventsInHold, findEvents, reportedEvents } from '#analysis/verdict/find-events.ts'
import {
  afterSecondZero,
  type FittedSection,
  type ShrinkingVariance,
} from '#analysis/verdict/fitted-section.ts'
import { feedsNeighbor, neighborGains } from '#analysis/verdict/neighbor-gauges.ts'
import { asWideAsPasses } from '#analysis/verdict/pass-doubts.ts'
import { leastToPassSeconds } from '#analysis/verdict/section-findings.ts'
import { longerWillNotHelp, partsOf, secondsMore, timeToDecide } from '#analysis/verdict/time-to-decide.ts'
import { allowedPa, holdS, type Made, madeView, testPa } from '../faults/made-hold.ts'
import { holdSpec, section } from '../hunt/made-system.ts'
import { curve, leakPerPa, mark, startNs } from './steady-curve.ts'

const around = (value: number, std: number) => ({ value, low: value - z95 * std, high: value + z95 * std })
const noisy: ShrinkingVariance = { white: 1, walk: 0, lasting: 0, whole: 1 }
const followed = (now: number) => ({ now, late: now, decay: 0 })
const nothing = { thermometer: false, barometer: false, stretch: false, stroke: false, 'fine-gauge': false }
/** The first of two measures that help, temperature or the volume, and whether the leak is near the allowance. */
const advice = (variance: ShrinkingVariance, value = 0.5) => {
  const { values } = longerWillNotHelp(section('line'), around(value, 1), 1, variance, {
    ...nothing,
    volume: true,
  })
  return { first: (values.help as string[])[0], near: values.nearAllowance }
}

describe('longerWillNotHelp(at its limits, own figures)', () => {
  it('calls a leak within a tenth of the allowance near, on both sides', () => {
    expect([0.88, 0.92, 1.08, 1.12].map((value) => advice(noisy, value).near)).toEqual([
      false,
      true,
      true,
      false,
    ])
  })
  it('names first a cause of three tenths of the variance', () => {
    const lasting = { ...noisy, white: 0, lasting: 0.5 }
    expect(advice({ ...lasting, followed: followed(Math.sqrt(0.33)) }).first).toBe('steady-gas')
    expect(advice({ ...lasting, followed: followed(Math.sqrt(0.27)) }).first).toBe('volume')
    expect(advice({ ...noisy, lasting: 0.33 }).first).toBe('volume')
    expect(advice({ ...noisy, lasting: 0.27 }).first).toBe('steady-gas')
  })
})

describe('secondsMore(of a variance that falls with a power of the time)', () => {
  /** Φ((A − x − 1.96·s′)/m) + Φ((x − A − 1.96·s′)/m), as documented, for a leak of none. */
  const chance = (room: number, after: number) => {
    const [std, moves] = [Math.sqrt(after), Math.sqrt(1 - after)]
    return normalCdf((room - z95 * std) / moves) + normalCdf((-room - z95 * std) / moves)
  }
  it.each([
    ['a gas: 1.5, between a walk and white noise', 'gas', 1.5],
    ['a full line: 1, a walk', 'liquid', 1],
  ] as const)('%s', (_, of, power) => {
    const rest = { white: 0, walk: 0, lasting: 0, whole: 1, of }
    const more = secondsMore(around(0, 1), 1.7, rest, 600, 600) as number
    expect(chance(1.7, (1 + more / 600) ** -power)).toBeGreaterThan(0.7)
    expect(chance(1.7, (1 + (more - 30) / 600) ** -power)).toBeLessThan(0.7)
  })
  it('asks for a tenth of the time held at least', () => {
    expect(secondsMore(around(0, 1), 9, noisy, 605, 605)).toBe(70)
  })
  it('some part of the variance always falls, and no more than a tenth where all of it seems to last', () => {
    const { lasting } = partsOf({ ...noisy, lasting: 5 })
    expect(lasting).toBeGreaterThan(0.9)
    expect(lasting).toBeLessThan(1)
  })
})

/** Curves of a hold of 600 s whose correction moves evenly by so many pascals. */
const moved = (pa: number, compensated: (t: number) => number = () => 0): HoldCurves => {
  const timeS = Float64Array.from({ length: 601 }, (_, i) => i)
  const compensatedPa = timeS.map((t) => testPa + compensated(t))
  return {
    section: 'line',
    timeS,
    holdStartS: 0,
    gaugePa: compensatedPa.map((value, i) => value + (pa * i) / 600),
    compensatedPa,
    leakLinePa: compensatedPa,
    temperatureK: null,
    barometricPa: null,
  }
}
const fitted = (over: object): FittedSection =>
  ({
    leak: { section: 'line', drop_Pa: around(1, 1) },
    allowance: { drop_Pa: 1 },
    judged: around(1, 1),
    allowed: 1,
    reasons: [],
    curves: moved(0),
    variance: { white: 0, walk: 0, lasting: 0.6, whole: 1 },
    ...over,
  }) as unknown as FittedSection

describe('timeToDecide(a section that no time decides)', () => {
  const help = (
    over: object,
    step = 0,
    of: Section = section('line'),
    allow: HoldSpec['allow'] | null = null,
  ) => {
    const spec = holdSpec('hold', ['line'], [], allow === null ? {} : { allow })
    const hold = { temperatureK: [], barometricPa: null, noise: { std: 0, step } } as never
    const told = timeToDecide(of, spec, fitted(over), hold, of.volumeToleranceM3, 0, 600)
    expect(told.secondsMore).toBeNull()
    return told.otherwise?.values.help as string[]
  }
  it('asks for a finer gauge from steps of a tenth of the allowance on (ASTM E2930, scope as read)', () => {
    expect(help({}, 0.11)).toContain('fine-gauge')
    expect(help({}, 0.09)).not.toContain('fine-gauge')
  })
  it('leaves 2 % of the correction of a gas in doubt: a spread over three tenths of the variance comes first', () => {
    // Four fifths of an even move are counted: (0.02 × 0.8 × 34.2)² = 0.3.
    expect(help({ curves: moved(38) })[0]).toBe('steady-gas')
    expect(help({ curves: moved(30) })[0]).not.toBe('steady-gas')
  })
  it('leaves 10 % of the correction of a full line in doubt', () => {
    const avgas = section('line', { medium: 'avgas', stretchPerPa: 0 })
    const drop = { kind: 'drop', dropPa: 1 } as const
    const unstroked = { reasons: [{ code: 'liquid-stiffness-unknown', values: {} }] }
    // (0.1 × 5.48)² = 0.3
    expect(help({ ...unstroked, curves: moved(6) }, 0, avgas, drop)).toEqual(['steady-liquid', 'stroke'])
    expect(help({ ...unstroked, curves: moved(5) }, 0, avgas, drop)).toEqual(['stroke', 'steady-liquid'])
  })
  it('asks for a volume only where the allowance depends on it', () => {
    const tolerated = section('line', { stretchPerPa: 0 })
    expect(help({}, 0, tolerated)).toEqual(['barometer', 'volume', 'steady-gas'])
    expect(help({}, 0, tolerated, { kind: 'drop', dropPa: 1 })).toEqual(['barometer', 'steady-gas'])
    expect(help({}, 0, section('line', { volumeToleranceM3: 0 }))).toEqual([
      'barometer',
      'stretch',
      'steady-gas',
    ])
  })
})

describe('asWideAsPasses()', () => {
  it('ends at the allowance for the widest interval that passes: 0.34 of it on a line, 0.55 on a tank', () => {
    expect(asWideAsPasses({ value: 0, low: -0.34, high: 0.34 }, 1, 'line').high).toBeCloseTo(1, 12)
    expect(asWideAsPasses({ value: 3, low: 1.9, high: 4.1 }, 2, 'tank').high).toBeCloseTo(2, 12)
    expect(asWideAsPasses({ value: 3, low: 1.9, high: 4.1 }, 2, 'tank').low).toBeCloseTo(-0.2, 12)
  })
})

describe('findEvents()', () => {
  const white = { whitePa: 5, walkPa: 0, correlation: 0 }
  /** A hold that falls faster from 300 s into it, found at a mark of a kind there. */
  const at = (kind: Parameters<typeof mark>[0], morePaPerS = 0.08) =>
    findEvents(
      curve(7, white, (t) => -morePaPerS * Math.max(0, t - 300)),
      [mark(kind, 'F07', 500)],
      startNs,
    )[0]
  const odds = (p: number) => p / (1 - p)
  it.each([
    ['work', 0.3],
    ['valve', 0.3],
    ['plug', 0.2],
    ['look', 0.1],
    ['note', 0.1],
  ] as const)(
    'multiplies the prior odds of a change at %s, %f, with the Bayes factor of its t value',
    (kind, prior) => {
      const { change, probability, mark: found } = at(kind)
      expect(found).toEqual({ kind, id: 'F07' })
      // Unit-information prior over 60 blocks with level, slope and curvature fitted: (1 + t²/56)^(57/2)/√61.
      const std = (change.high - change.low) / 2 / studentTQuantile(0.975, 56)
      const bayes = (1 + (change.value / std) ** 2 / 56) ** 28.5 / Math.sqrt(61)
      expect(odds(probability) / bayes).toBeCloseTo(prior / (1 - prior), 6)
    },
  )
  it('is never certain', () => {
    const { probability } = at('work', 3)
    expect(probability).toBeGreaterThan(0.999)
    expect(probability).toBeLessThan(1)
  })
  it('says of a leak that grew what the change is in moles, and of a step what it is in pascals', () => {
    const grew = at('work', 0.4)
    expect(grew.change.value / leakPerPa).toBeCloseTo(0.4, 1)
    expect(grew.message).toBe('The leak of left-feed grew at the mark work F07.')
    const [stepped] = findEvents(
      curve(5, white, (t) => (t > 300 ? 60 : 0)),
      [mark('note', null, 500)],
      startNs,
    )
    expect(stepped.change.unit).toBe('Pa')
    expect(stepped.message).toBe('The pressure of left-feed stepped up at the mark note.')
  })
  it('tests no mark in the five blocks of ten seconds at either end', () => {
    const marked = (atS: number) =>
      findEvents(
        curve(5, white, (t) => (t > atS - 200 ? -200 : 0)),
        [mark('work', 'F07', atS)],
        startNs,
      ).some((event) => event.mark !== null)
    expect([240, 265, 735, 760].map(marked)).toEqual([false, true, true, false])
  })
  it('needs 20 blocks', () => {
    const found = (count: number) => {
      const { section: of, timeS } = curve(5, white)
      const at = timeS.slice(0, count)
      const middleS = (at[0] + at[count - 1]) / 2
      const compensatedPa = at.map((t, i) => (t > middleS ? -500 : 0) + (i % 3))
      return findEvents(
        { section: of, timeS: at, compensatedPa, leakPerPa, leakUnit: 'mol_per_s' },
        [mark('work', 'F07', Math.floor(middleS))],
        startNs,
      )
    }
    expect(found(21)).not.toEqual([])
    expect(found(19)).toEqual([])
  })
  it('finds two changes that no mark explains, in the order of time, and no third', () => {
    const found = findEvents(
      curve(5, white, (t) => (t > 150 ? -300 : 0) + (t > 300 ? 300 : 0) + (t > 450 ? -300 : 0)),
      [],
      startNs,
    )
    expect(found).toHaveLength(2)
    expect(BigInt(found[0].time_ns) < BigInt(found[1].time_ns)).toBe(true)
  })
})

describe('eventsInHold()', () => {
  /** A hold from 100 s on whose leak grows in its middle by the allowed fall, 600 Pa in 600 s. */
  const told = (of: Partial<FittedSection>, changed: (pa: Float64Array) => void = () => {}) => {
    const curves = moved(0, (t) => -Math.max(0, t - 350) + 0.5 * (t % 2))
    changed(curves.compensatedPa)
    const leak = { section: 'line', drop_Pa: around(1, 1), mol_per_s: around(1, 1) }
    const section = fitted({ allowance: { drop_Pa: 600 }, leak, curves, ...of })
    return eventsInHold({ startNs, marks: [] } as never, section, 3e-9, 100, 600)
  }
  it('says a change as moles, or as a volume of a liquid, by the allowance in both units', () => {
    const [gas] = told({})
    expect([gas.kind, gas.change.unit]).toEqual(['slope', 'mol_per_s'])
    expect(gas.change.value / 3e-9).toBeCloseTo(1, 1)
    const [liquid] = told({ leak: { section: 'line', drop_Pa: around(1, 1), mL_per_min: around(1, 1) } })
    expect(liquid.change).toEqual({ ...gas.change, unit: 'm3_per_s' })
  })
  it('compares a gas in mol/s and a liquid in m³/s: 60 mL/min are 1e-6 m³/s (computed)', () => {
    expect(allowedRateOf({ drop_Pa: 600, mol_per_s: 3e-9, scc_per_min: 4 })).toBe(3e-9)
    expect(allowedRateOf({ drop_Pa: 600, mL_per_min: 60 })).toBeCloseTo(1e-6, 15)
    expect(allowedRateOf({ drop_Pa: 600 })).toBe(0)
  })
  it('says nothing where a figure of the hold is missing; what came before the hold does not matter', () => {
    expect(told({}, (pa) => pa.fill(Number.NaN, 0, 100))).toEqual(told({}))
    expect(told({}, (pa) => pa.fill(Number.NaN, 300, 301))).toEqual([])
    expect(told({ allowance: { drop_Pa: 0 } })).toEqual([])
    expect(told({ allowance: { drop_Pa: Number.NaN } })).toEqual([])
  })
})

describe('reportedEvents(of a full line) reports a change just beyond its limit and not just before it (own figures)', () => {
  const mlPerMin = 60e6
  /** Allowance: one pascal in each second of the hold. */
  const allowed = 1e-9
  const told = (compensated: (t: number) => number, correction: HoldCurves | null = null, half = 0) => {
    const own = moved(0, (t) => compensated(t) + 0.5 * (t % 2))
    const curves =
      correction === null
        ? own
        : { ...own, gaugePa: own.compensatedPa.map((pa, i) => pa + correction.gaugePa[i] - testPa) }
    const section = fitted({
      allowance: { drop_Pa: 600 },
      leak: { section: 'line', drop_Pa: around(1, 1), mL_per_min: { value: 0, low: -half, high: half } },
      byThermometer: () => curves,
    })
    const recording = { startNs, marks: [] } as never
    return reportedEvents(recording, section, [], allowed, 0, 600).map(({ kind }) => kind)
  }
  const growing = (perS: number) => (t: number) => -perS * Math.max(0, t - 300)
  const bending = (perS: number): HoldCurves => {
    const flat = moved(0)
    return { ...flat, gaugePa: flat.timeS.map((t) => testPa + perS * Math.max(0, t - 300)) }
  }
  it('a change of twice the allowance', () => {
    expect(told(growing(2.2))).toContain('slope')
    expect(told(growing(1.8))).not.toContain('slope')
  })
  it('a change of half the interval', () => {
    expect(told(growing(5.5), null, 5 * allowed * mlPerMin)).toContain('slope')
    expect(told(growing(4.5), null, 5 * allowed * mlPerMin)).not.toContain('slope')
  })
  it('a change of 1.25 times the bend of the correction', () => {
    expect(told(growing(5.5), bending(4))).toContain('slope')
    expect(told(growing(4.5), bending(4))).not.toContain('slope')
  })
  it('where the bend is that of slopes over a sixth of the hold: 400 Pa within 100 s are 4 Pa/s (computed)', () => {
    const flat = moved(0)
    const sudden = { ...flat, gaugePa: flat.gaugePa.map((pa, i) => pa + (i > 300 ? 400 : 0)) }
    expect(told(growing(5.5), sudden)).toContain('slope')
    expect(told(growing(4.5), sudden)).not.toContain('slope')
  })
  it('a step of a fifth of the span of the correction', () => {
    const step = (pa: number) => (t: number) => (t > 300 ? -pa : 0)
    expect(told(step(110), moved(500))).toContain('step')
    expect(told(step(90), moved(500))).not.toContain('step')
  })
})

describe('neighborGains() and feedsNeighbor()', () => {
  const pa = (risePa: number) => (timeS: number) => 1000 + (risePa * (timeS - holdS)) / 600
  const gains = (risePa: number, parts: Made = {}) => {
    const { recording, system, ...view } = madeView({
      ...parts,
      others: [{ channel: { section: 'beyond', unit: 'psi' }, at: pa(risePa) }],
    })
    const stages = { ...view, source: 'marks' as const }
    return {
      told: neighborGains(recording, system, stages),
      feeds: feedsNeighbor(recording, system, stages, ['line']),
    }
  }
  it('tell a rise of four times the 100 Pa that temperature and weather explain (own figures)', () => {
    expect(gains(440)).toMatchObject({ told: [{ section: 'beyond' }], feeds: true })
    expect(gains(360)).toEqual({ told: [], feeds: false })
    expect(gains(-900)).toEqual({ told: [], feeds: false })
  })
  it('give the gain as a negative leak with the uncertainty of the volume: 10 % rectangular, and 100 Pa (computed)', () => {
    const [{ drop_Pa, mol_per_s }] = gains(1200).told
    expect(drop_Pa.value).toBeCloseTo(-1200, 3)
    expect(drop_Pa.high - drop_Pa.value).toBeCloseTo(1.959964 * Math.hypot(100, 120 / Math.sqrt(3)), 1)
    expect(drop_Pa.value - drop_Pa.low).toBeCloseTo(drop_Pa.high - drop_Pa.value, 9)
    // pV = nRT at 293.15 K in 0.35 L.
    expect(mol_per_s!.value).toBeCloseTo((-2 * 0.35e-3) / (8.314462618 * 293.15), 12)
  })
  it('say nothing under suction', () => {
    expect(gains(1200, { spec: { pressurePa: -testPa } })).toEqual({ told: [], feeds: false })
  })
})

describe('afterSecondZero(a gauge whose zero moved)', () => {
  const allowed = 30 * allowedPa
  /** The zero after the vent is so much of the allowance higher; the drift of the hold is 600 s of some 775 s. */
  const widened = (share: number, source: 'marks' | 'pressure' = 'marks', sign = 1) => {
    const view = madeView({
      endS: 900,
      spec: { pressurePa: sign * testPa },
      pa: (timeS, quiet) => sign * quiet + (timeS < 772 ? 0 : share * allowed),
    })
    const before = fitted({
      leak: { section: 'line', drop_Pa: around(0, 10) },
      allowance: { drop_Pa: allowed },
      judged: around(0, 10),
      allowed,
    })
    const { judged, reasons } = afterSecondZero(before, view.signal, { ...view, source }, 600)
    return { judged, codes: reasons.map(({ code }) => code) }
  }
  it('widens one end from a twentieth of the allowance on, whose sign says which (own figure)', () => {
    expect(widened(0.075).codes).toEqual(['zero-drifted'])
    expect(widened(0.055).codes).toEqual([])
    const [up, down] = [widened(0.2).judged, widened(-0.2).judged]
    expect(up.high).toBeGreaterThan(around(0, 10).high + 2500)
    expect(up.low).toBe(around(0, 10).low)
    expect(down.low).toBeLessThan(around(0, 10).low - 2500)
    expect(down.high).toBe(around(0, 10).high)
  })
  it('widens the other end under suction, where a gauge that rises shows a leak instead of hiding one', () => {
    const [up, down] = [widened(0.2, 'marks', -1).judged, widened(-0.2, 'marks', -1).judged]
    expect(up.low).toBeLessThan(around(0, 10).low - 2500)
    expect(up.high).toBe(around(0, 10).high)
    expect(down.high).toBeGreaterThan(around(0, 10).high + 2500)
    expect(down.low).toBe(around(0, 10).low)
  })
  it('does not where the vent is unmarked: the end of a slow one looks the same', () => {
    expect(widened(0.2, 'pressure').codes).toEqual([])
  })
})

describe('leastToPassSeconds()', () => {
  it('is a quarter of the stated time, and ten seconds at least (own figures)', () => {
    expect([600, 100, 30, 1].map(leastToPassSeconds)).toEqual([150, 25, 10, 10])
  })
})
