import { describe, expect, it } from 'vitest'
import type { HoldCurves } from '#analysis/model/hold-result.ts'
import { normalCdf } from '#analysis/numeric/normal-distribution.ts'
import { phrase } from '#analysis/reasons/phrase.ts'
import { followedChange } from '#analysis/signal/followed-change.ts'
import { longerWillNotHelp, partsOf, secondsMore, withLasting } from '#analysis/verdict/time-to-decide.ts'

const z95 = 1.959963984540054
/** An interval of one standard error `std` about `value`. */
const around = (value: number, std: number) => ({ value, low: value - z95 * std, high: value + z95 * std })
const noisy = { white: 1, walk: 0, lasting: 0, whole: 1 }
const moving = { now: 0.9, late: 0.9, decay: 0 }

describe('secondsMore', () => {
  it('white noise: the first time at which pass and fail together have seven chances in ten, variance as its third power', () => {
    const room = 1.5
    const chance = (seconds: number) => {
      const after = (600 / (600 + seconds)) ** 3
      const [std, moves] = [Math.sqrt(after), Math.sqrt(1 - after)]
      return normalCdf((room - z95 * std) / moves) + normalCdf((-room - z95 * std) / moves)
    }
    const more = secondsMore(around(0, 1), room, noisy, 600, 600) as number
    expect(chance(more)).toBeGreaterThan(0.7)
    expect(chance(more - 30)).toBeLessThan(0.7)
  })
  it('a random walk takes longer than white noise, what heat and temperature leave lies between', () => {
    const time = (part: object) => secondsMore(around(0, 1), 1.6, { ...noisy, white: 0, ...part }, 600, 600)
    const white = time({ white: 1 }) as number
    const rest = time({}) as number
    expect(rest).toBeGreaterThan(white)
    expect(time({ walk: 1 }) as number).toBeGreaterThan(rest)
  })
  it('is whole tens of seconds, and longer the closer the leak seems to the allowance', () => {
    const times = [1.8, 1.4, 1].map((room) => secondsMore(around(0, 1), room, noisy, 600, 600) as number)
    for (const time of times) expect(time % 10).toBe(0)
    expect([...times].sort((a, b) => a - b)).toEqual(times)
  })
  it('a leak that is anywhere is decided either way: an estimate at the allowance still has a time where the noise is large', () => {
    expect(secondsMore(around(0, 1), 0, noisy, 600, 600)).not.toBeNull()
    expect(secondsMore(around(0, 1), 0, { ...noisy, white: 0.3, lasting: 0.7 }, 600, 600)).toBeNull()
  })
  it('is null where the lasting part alone fills the room, and beyond eight stated times or six hours', () => {
    expect(secondsMore(around(0, 1), 1, { white: 0.6, walk: 0, lasting: 0.4, whole: 1 }, 600, 600)).toBeNull()
    const walk = { ...noisy, white: 0, walk: 1 }
    expect(secondsMore(around(0, 1), 1.8, walk, 600, 600)).not.toBeNull()
    expect(secondsMore(around(0, 1), 1.8, walk, 600, 60)).toBeNull()
    expect(secondsMore(around(0, 1), 1.8, walk, 20_000, 20_000)).toBeNull()
  })
  it('a leak that seems too large is decided by the lower end: the wider that is, the longer', () => {
    const even = secondsMore({ value: 0, low: -2, high: 2 }, -1.4, noisy, 600, 600) as number
    const lopsided = secondsMore({ value: 0, low: -3, high: 1 }, -1.4, noisy, 600, 600) as number
    expect(lopsided).toBeGreaterThan(even)
  })
  it('temperature that goes on moving takes the hope away, one that dies away gives it back', () => {
    const time = (decay: number) =>
      secondsMore(around(0, 1), 1.4, { ...noisy, white: 0.19, followed: { ...moving, decay } }, 600, 600)
    expect(time(0)).toBeNull()
    expect(time(3)).not.toBeNull()
  })
})

describe('withLasting', () => {
  it('what a leak has beyond the drop lasts: an interval twice as wide keeps three quarters of its variance (computed)', () => {
    expect(withLasting(noisy, 0.5, 1).lasting).toBeCloseTo(0.75, 12)
    expect(withLasting(noisy, 1, 1).lasting).toBe(0)
    expect(withLasting({ ...noisy, lasting: 0.9 }, 0.5, 1).lasting).toBe(0.9)
  })
})

describe('partsOf', () => {
  it('no part is larger than is left of the whole, and they add up to it', () => {
    for (const followed of [undefined, moving])
      for (const lasting of [0, 0.5, 2]) {
        const parts = partsOf({ white: 0.4, walk: 0.3, lasting, whole: 1, followed })
        for (const part of Object.values(parts)) expect(part).toBeGreaterThanOrEqual(0)
        expect(parts.lasting + parts.followed + parts.noise + parts.rest).toBeCloseTo(1, 12)
      }
  })
})

describe('followedChange of a correction of known course, held for 600 s of stated 300 s', () => {
  const of = (correction: (timeS: number) => number): HoldCurves => {
    const timeS = Float64Array.from({ length: 601 }, (_, i) => 100 + i)
    const gaugePa = timeS.map((t) => 1000 + correction(t - 100))
    const flat = timeS.map(() => 1000)
    return {
      section: 'line',
      timeS,
      holdStartS: 100,
      gaugePa,
      compensatedPa: flat,
      leakLinePa: flat,
      temperatureK: null,
      barometricPa: null,
    }
  }
  it('a ramp of 1 Pa/s moves 300 Pa in the stated time, four fifths of it counted, and does not die away', () => {
    const { now, late, decay } = followedChange(
      of((t) => t),
      100,
      700,
      300,
      'moves',
    )
    expect(now).toBeCloseTo(240, 6)
    expect(late).toBeCloseTo(300, 6)
    expect(decay).toBe(0)
  })
  it('an exponential of 200 s dies away by e³ in the 600 s that were held', () => {
    const { decay } = followedChange(
      of((t) => Math.exp(-t / 200)),
      100,
      700,
      300,
      'range',
    )
    expect(decay).toBeCloseTo(3, 6)
  })
  it('to and fro counts in moves; in range it goes no further than it went', () => {
    const swing = of((t) => Math.sin((2 * Math.PI * t) / 120))
    expect(followedChange(swing, 100, 700, 300, 'moves').now).toBeCloseTo(8, 1)
    const { now, late } = followedChange(swing, 100, 700, 300, 'range')
    expect(now).toBeCloseTo(1, 2)
    expect(late).toBeCloseTo(0, 2)
  })
})

describe('longerWillNotHelp', () => {
  const section = {
    id: 'left',
    medium: 'air' as const,
    volumeM3: 1e-3,
    volumeToleranceM3: 1e-4,
    maxPressurePa: null,
    maxVacuumPa: null,
    stretchPerPa: 0,
    kind: null,
    capacityM3: null,
    unusableM3: null,
  }
  const nothing = {
    thermometer: false,
    barometer: false,
    volume: false,
    stretch: false,
    stroke: false,
    'fine-gauge': false,
  }
  const said = (without: object, variance = noisy, value = 0.5, medium: 'air' | 'avgas' = 'air') =>
    phrase(
      longerWillNotHelp({ ...section, medium }, around(value, 1), 1, variance, { ...nothing, ...without }),
      { pressure: 'psi', temperature: 'degC', volume: 'L' },
    )
  it('names what the hold went without', () => {
    expect(said({ thermometer: true })).toContain('a thermometer on the section')
    expect(said({ barometer: true })).toContain('a barometer')
    expect(said({ volume: true })).toContain('a measured volume')
    expect(said({ stretch: true })).toContain('a known stretch')
    expect(said({ 'fine-gauge': true })).toContain('a gauge with finer steps')
    expect(said({ stroke: true }, noisy, 0.5, 'avgas')).toContain('a known volume injected')
  })
  it('begins with temperature where that leads, with the rest where the lasting part does', () => {
    const lasting = { ...noisy, lasting: 0.95 }
    expect(said({ volume: true }, { ...noisy, followed: moving } as typeof noisy)).toMatch(/help: a steadier/)
    expect(said({ volume: true }, lasting)).toMatch(/help: a measured volume/)
  })
  it('says where the leak seems to be as large as the allowance: repair it', () => {
    expect(said({}, noisy, 0.95)).toContain('within a tenth of the allowance')
    expect(said({}, noisy, 0.95)).toContain('repair the leak')
    expect(said({}, noisy, 0.5)).not.toContain('repair the leak')
  })
  it('offers no second vessel to a line full of fuel', () =>
    expect(said({}, noisy, 0.5, 'avgas')).not.toContain('vessel'))
})
