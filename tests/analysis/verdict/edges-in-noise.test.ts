import { describe, expect, it } from 'vitest'
import { fitOrNull } from '#analysis/fit/fit-beside-vessel.ts'
import { gasHold } from '#analysis/fit/gas-rows.ts'
import { gasBeliefs } from '#analysis/fit/hold-model.ts'
import { z95 } from '#analysis/numeric/normal-distribution.ts'
import { UnknownNoiseFit } from '#analysis/numeric/unknown-noise.ts'
import { lineThrough } from '#analysis/signal/column-spans.ts'
import { zeroDrift } from '#analysis/signal/gauge-zero.ts'
import { unknownWeatherPaPerS } from '#analysis/signal/pressure-signal.ts'
import { pressurisedBodies } from '#analysis/signal/pressurised-bodies.ts'
import { findEvents } from '#analysis/verdict/find-events.ts'
import { afterSecondZero, type FittedSection } from '#analysis/verdict/fitted-section.ts'
import { gasFinding } from '#analysis/verdict/gas-finding.ts'
import { wideningOf } from '#analysis/verdict/look-widening.ts'
import { leakChanged, passDoubts, vaporDoubt, type WouldPass } from '#analysis/verdict/pass-doubts.ts'
import { sectionFinding } from '#analysis/verdict/section-findings.ts'
import { seededRandom } from '#ingest/simulator/random.ts'
import { allowedPa, holdS, type Made, madeView, testPa } from '../faults/made-hold.ts'
import { mark, startNs } from './steady-curve.ts'
import { allowedPa as allowed, type Curves, statedS, steady, timeS, wouldPass } from './would-pass.ts'

/** Argument of a monotone function at which it has a value, by bisection. */
function whereIs(value: number, of: (x: number) => number, from: number, to: number): number {
  const rises = of(to) > of(from)
  let [low, high] = [from, to]
  for (let i = 0; i < 16; i++) {
    const middle = (low + high) / 2
    if (of(middle) < value === rises) low = middle
    else high = middle
  }
  const found = (low + high) / 2
  expect(of(found) / value).toBeCloseTo(1, 1)
  return found
}

/** What is told where a ratio to its limit is a sixth below 1, and a sixth above. */
const aboutLimit = (ratio: (x: number) => number, from: number, to: number, told: (x: number) => boolean) =>
  [0.85, 1.17].map((value) => told(whereIs(value, ratio, from, to)))

describe('findEvents(sixty blocks in white noise) shares a false alarm of 0.5 % a hold (own figure)', () => {
  const timeS = Float64Array.from({ length: 60 }, (_, i) => 10 * i)
  const random = seededRandom(5)
  const noisePa = timeS.map(() => random.normal())
  const stepped = (pa: number) => noisePa.map((value, i) => value + (timeS[i] > 300 ? pa : 0))
  const found = (compensatedPa: Float64Array, marks: Parameters<typeof findEvents>[1]) =>
    findEvents(
      { section: 'line', timeS, compensatedPa, leakPerPa: 1e-9, leakUnit: 'mol_per_s' },
      marks,
      startNs,
    )
  /** Chance that noise alone looks like the likeliest change at one of these times. */
  const tail = (compensatedPa: Float64Array, times: readonly number[]) => {
    const fit = new UnknownNoiseFit(timeS, compensatedPa)
    return Math.min(
      ...times.flatMap((atS) => [
        fit.test(timeS.map((t) => (t > atS ? 1 : 0)))!.tail,
        fit.test(timeS.map((t) => Math.max(0, t - atS)))!.tail,
      ]),
    )
  }
  it.each([1, 2])(
    'with %i marks, two kinds of change and two signs: a quarter of its share each',
    (count) => {
      const marks = [mark('work', 'F07', 301), mark('note', null, 150)].slice(0, count)
      const ratio = (pa: number) => tail(stepped(pa), [301]) / (0.005 / 4 / count)
      const told = (pa: number) => found(stepped(pa), marks).some((event) => event.mark?.id === 'F07')
      expect(aboutLimit(ratio, 0.5, 5, told)).toEqual([true, false])
    },
  )

  it('without marks: one in fifty times, five blocks from either end', () => {
    const times = Array.from({ length: 50 }, (_, i) => 45 + 10 * i)
    const ratio = (pa: number) => tail(stepped(pa), times) / (0.005 / 4 / 50)
    const told = (pa: number) => found(stepped(pa), []).length > 0
    expect(aboutLimit(ratio, 1, 6, told)).toEqual([true, false])
  })

  it('a change without a mark has prior odds of 5 % shared by the times', () => {
    const size = 4
    const [{ probability, change, time_ns, message }] = found(stepped(size), [])
    const atS = Number(BigInt(time_ns) - BigInt(startNs)) / 1e9
    const fit = new UnknownNoiseFit(timeS, stepped(size)).test(timeS.map((t) => (t > atS ? 1 : 0)))!
    expect(change.value).toBeCloseTo(fit.value, 12)
    const prior = 0.05 / 50
    expect(probability / (1 - probability) / fit.bayesFactor / (prior / (1 - prior))).toBeCloseTo(1, 9)
    expect(message).toBe('The pressure of line stepped up without a mark.')
  })

  it('looks for no second change within five blocks of the first', () => {
    const twice = (apartS: number) =>
      found(
        noisePa.map((value, i) => value + (timeS[i] > 300 ? 60 : 0) - (timeS[i] > 300 + apartS ? 90 : 0)),
        [mark('work', 'F07', 301)],
      ).filter((event) => event.mark === null)
    expect(twice(80).length).toBeGreaterThan(0)
    for (const event of twice(40)) {
      const atS = Number(BigInt(event.time_ns) - BigInt(startNs)) / 1e9
      expect(Math.abs(atS - 301)).toBeGreaterThan(50)
    }
  })
})

describe('a doubt about a pass in noise counts standard errors', () => {
  const random = seededRandom(9)
  const noisePa = timeS.map(() => 60 * random.normal())
  /** Falls from half way on by so many allowances in the stated time, in noise. */
  const falls = (allowances: number, sign = 1) =>
    timeS.map((t, i) => noisePa[i] - (sign * allowances * allowed * Math.max(0, t - 300)) / statedS)
  const still = steady(0)
  const hold = (over: Partial<WouldPass>, curves: Curves) =>
    wouldPass(
      { judged: { value: 0, low: -0.1, high: 0.1 }, ...over },
      { gaugePa: still, compensatedPa: still, temperatureK: null, barometricPa: null, ...curves },
    )
  const changed = (probability: number) => ({
    time_ns: '300000000000',
    kind: 'slope' as const,
    mark: null,
    section: 'line',
    change: { value: 0.01, low: -0.05, high: 0.05, unit: 'mol_per_s' as const },
    probability,
    message: '',
  })
  /** Loss of the part after the change in the stated time and its standard error, in allowances. */
  const lateLoss = (pa: Float64Array) => {
    const line = lineThrough(timeS, pa, 300, 600, 600)!
    return { loss: (-line.perS * statedS) / allowed, std: (line.stdPerS * statedS) / allowed }
  }
  const codes = (reasons: readonly { readonly code: string }[]) => reasons.map(({ code }) => code)

  it('a part before or after a change may leak: its upper 95 % bound is below the allowance', () => {
    const ratio = (allowances: number) => {
      const { loss, std } = lateLoss(falls(allowances))
      return (1 - loss) / (z95 * std)
    }
    const told = (allowances: number) =>
      codes(passDoubts(hold({ events: [changed(0.7)] }, { compensatedPa: falls(allowances) }))).includes(
        'slope-changed',
      )
    expect(aboutLimit(ratio, -1, 3, told)).toEqual([true, false])
  })

  it('an unexplained fall late in the hold: its lower 95 % bound is above the allowance', () => {
    const ratio = (allowances: number) => {
      const { loss, std } = lateLoss(falls(allowances))
      return (loss - 1) / (z95 * std)
    }
    const told = (allowances: number) =>
      codes(passDoubts(hold({}, { gaugePa: falls(allowances) }))).includes('drop-unexplained')
    expect(aboutLimit(ratio, 0, 4, told)).toEqual([false, true])
  })

  it('a leak that changed: the part is above the allowance by three standard errors (own figure)', () => {
    const ratio = (allowances: number) => {
      const { loss, std } = lateLoss(falls(allowances))
      return (loss - 1) / (3 * std)
    }
    const told = (allowances: number) => {
      const compensatedPa = falls(allowances)
      return (
        leakChanged(hold({ events: [changed(0.95)] }, { compensatedPa, gaugePa: compensatedPa })).blocking
          .length > 0
      )
    }
    expect(aboutLimit(ratio, 0, 6, told)).toEqual([false, true])
  })

  it('a rise that slows: by two-sided 95 % of both halves, propagated to their ratio', () => {
    const rises = (slower: number) =>
      timeS.map((t, k) => 20 * noisePa[k] + 100 * (Math.min(t, 300) + slower * Math.max(0, t - 300)))
    const ratioOf = (slower: number) => {
      const [first, second] = [0, 300].map(
        (fromS) => lineThrough(timeS, rises(slower), fromS, fromS + 300, 0)!,
      )
      const ratio = second.perS / first.perS
      // Standard error of a quotient (JCGM 100:2008, 5.1.2). An even vacuum leaves the law even: 6 % slower is vapor.
      const std = ratio * Math.hypot(second.stdPerS / second.perS, first.stdPerS / first.perS)
      return (0.94 - ratio) / (1.959964 * std)
    }
    const told = (slower: number) => {
      const curves = { gaugePa: timeS.map(() => -10_000), compensatedPa: rises(slower) }
      return vaporDoubt('line', hold({}, curves).curves, false) !== null
    }
    expect(aboutLimit(ratioOf, 0.3, 1.2, told)).toEqual([false, true])
  })
})

const measuredOf = (parts: Made) => {
  const { recording, system, ...view } = madeView(parts)
  const stages = { ...view, source: 'marks' as const }
  const [measured] = pressurisedBodies(recording, system, view.spec).measured
  return { recording, system, stages, measured, untilS: view.untilS }
}

describe('sectionFinding(a section that is fed) voids a rise', () => {
  const found = (allowances: number, risePa: number, noisePa: number) => {
    const random = seededRandom(21)
    const { recording, system, stages, measured } = measuredOf({
      section: { stretchPerPa: 0 },
      spec: { allow: { kind: 'drop', dropPa: allowances * allowedPa } },
      pa: (timeS, quiet) =>
        quiet + noisePa * random.normal() + (timeS < 770 ? (risePa * Math.max(0, timeS - holdS)) / 600 : 0),
    })
    const { leak, reasons } = sectionFinding(recording, system, stages, measured, null, {
      live: false,
      rehearsal: true,
    })
    const { value, low, high } = leak!.drop_Pa
    const std = (high - low) / 2 / z95
    return { told: reasons.some(({ code }) => code === 'pressure-rose'), value, high, std }
  }
  it('of a twentieth of the allowance (own figure)', () => {
    const ended = found(40, 0, 0)
    const ratios = [1, 1.1, 1.2, 1.3].map((times) => {
      const { told, high } = found(40, 40 * 0.05 * times * allowedPa + ended.high - ended.value, 0)
      expect(told).toBe(high < -0.05 * 40 * allowedPa)
      return high / (-0.05 * 40 * allowedPa)
    })
    expect(Math.min(...ratios)).toBeGreaterThan(0.75)
    expect(Math.max(...ratios)).toBeLessThan(1.25)
  })
  it('of three standard errors (own figure)', () => {
    const { std } = found(0.01, 0, 0)
    const ratios = [2.4, 2.8, 3.2, 3.6].map((errors) => {
      const rise = found(0.01, errors * std, 0)
      expect(rise.told, `${errors}`).toBe(rise.value + 3 * rise.std < 0)
      return -rise.value / (3 * rise.std)
    })
    expect(ratios.filter((ratio) => ratio > 0.75 && ratio < 1)).not.toEqual([])
    expect(ratios.filter((ratio) => ratio > 1 && ratio < 1.25)).not.toEqual([])
  })
})

describe('afterSecondZero(a zero in noise)', () => {
  it('counts a drift from two standard errors on (own figure)', () => {
    const random = seededRandom(5)
    const noise = Array.from({ length: 1000 }, () => 300 * random.normal())
    const ratios = [0.2, 0.4, 0.6, 0.8, 1, 1.2, 1.4].map((share) => {
      const view = madeView({
        endS: 900,
        pa: (timeS, quiet) => quiet + noise[timeS] + (timeS < 772 ? 0 : 2.2 * share * allowedPa),
      })
      const before = {
        leak: { section: 'line', drop_Pa: { value: 0, low: 0, high: 0 } },
        allowance: { drop_Pa: allowedPa },
        judged: { value: 0, low: 0, high: 0 },
        allowed: allowedPa,
        reasons: [],
      } as unknown as FittedSection
      const { driftPa, stdPa } = zeroDrift(view.signal, view, testPa)!
      const told = afterSecondZero(before, view.signal, { ...view, source: 'marks' }, 600).reasons.length > 0
      expect(told, `${share}`).toBe(Math.abs(driftPa) >= 2 * stdPa)
      return Math.abs(driftPa) / (2 * stdPa)
    })
    expect(ratios.filter((ratio) => ratio > 0.75 && ratio < 1)).not.toEqual([])
    expect(ratios.filter((ratio) => ratio > 1 && ratio < 1.25)).not.toEqual([])
  })
})

describe('gasFinding() splits the variance of the drop by how it falls with time', () => {
  const parts = (made: Made) => {
    const { recording, system, stages, measured, untilS } = measuredOf({
      section: { stretchPerPa: 0 },
      ...made,
    })
    const hold = gasHold(recording, system, stages, measured.signal, ['line'], untilS)!
    const beliefs = gasBeliefs({ ...hold, unseenTemperatureK: 0 }, measured.section, stages.spec, false)
    const { walkPerS } = fitOrNull(hold.rows, beliefs, true)!.best
    const finding = gasFinding(hold, system, stages, measured, 1, { creeps: false, quick: true })!
    return { ...finding, hold, walkPerS, spanS: untilS - holdS }
  }
  it('a walk: 6/5 of its variance a second over the hold, as of a line through a random walk (textbook)', () => {
    const random = seededRandom(8)
    let walkPa = 0
    const { variance, walkPerS, spanS, hold } = parts({
      pa: (_, quiet) => {
        walkPa += 4 * random.normal()
        return quiet + walkPa
      },
    })
    const textbook = 1.2 * walkPerS * spanS * (600 / spanS) ** 2 * hold.testPa ** 2
    expect(variance.walk).toBeGreaterThan(0)
    expect(variance.walk / textbook).toBeGreaterThan(0.85)
    expect(variance.walk / textbook).toBeLessThan(1.15)
  })
  it('what lasts: the weather that nobody measured, and 1 % of the leak (own figure)', () => {
    const { variance, judged } = parts({
      pa: (timeS, quiet) => quiet - (timeS < 770 ? 10 * Math.max(0, timeS - holdS) : 0),
    })
    expect(judged.value).toBeGreaterThan(1000)
    const weatherPa = unknownWeatherPaPerS * 600
    expect(variance.lasting / (weatherPa ** 2 + (0.01 * judged.value) ** 2)).toBeCloseTo(1, 2)
    expect(0.01 * judged.value).toBeGreaterThan(0.3 * weatherPa)
    expect(Math.sqrt(variance.whole) / ((judged.high - judged.low) / 2 / 1.959964)).toBeCloseTo(1, 6)
  })
})

describe('wideningOf()', () => {
  it('is 25 for a look that comes too early to decide anything (own figure)', () =>
    expect(wideningOf(true, 0.001, 600)).toBe(25))
  it('takes a hold as ended early below 95 % of its stated time (own figure)', () => {
    expect(wideningOf(false, 569, 600)).toBeGreaterThan(1.5)
    expect(wideningOf(false, 571, 600)).toBe(1)
  })
})
