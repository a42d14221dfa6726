import { describe, expect, it } from 'vitest'
import { secondsMore, withLasting } from '#analysis/hold/more-time.ts'

const z95 = 1.959963984540054
/** An interval of one standard error `std` about `value`. */
const around = (value: number, std: number) => ({ value, low: value - z95 * std, high: value + z95 * std })
const noisy = { white: 1, walk: 0, lasting: 0, whole: 1 }

describe('secondsMore', () => {
  it('white noise: the variance falls with the third power, and the estimate may still move by a quarter of what it loses', () => {
    const room = 1.5
    const more = secondsMore(around(0, 1), room, noisy, 600, 600) as number
    const after = Math.sqrt((600 / (600 + more)) ** 3)
    const needed = z95 * after + 0.25 * Math.sqrt(1 - after ** 2)
    expect(needed).toBeLessThanOrEqual(room)
    expect(needed / room).toBeGreaterThan(0.93)
  })
  it('a random walk takes longer than white noise, heat and temperature longer still', () => {
    const time = (part: object) => secondsMore(around(0, 1), 1.6, { ...noisy, white: 0, ...part }, 600, 600)
    const white = time({ white: 1 }) as number
    const walk = time({ walk: 1 }) as number
    expect(walk).toBeGreaterThan(white)
    expect(time({}) as number).toBeGreaterThan(walk)
  })
  it('is whole tens of seconds, and longer the closer the leak seems to the allowance', () => {
    const times = [1.8, 1.4, 1].map((room) => secondsMore(around(0, 1), room, noisy, 600, 600) as number)
    for (const time of times) expect(time % 10).toBe(0)
    expect([...times].sort((a, b) => a - b)).toEqual(times)
  })
  it('is null where the lasting part alone fills the room, and beyond eight stated times', () => {
    expect(secondsMore(around(0, 1), 1, { white: 0.6, walk: 0, lasting: 0.4, whole: 1 }, 600, 600)).toBeNull()
    expect(secondsMore(around(0, 1), 0.05, noisy, 600, 600)).toBeNull()
  })
  it('a leak that seems too large is decided by the lower end: the wider that is, the longer', () => {
    const even = secondsMore({ value: 0, low: -2, high: 2 }, -1.4, noisy, 600, 600) as number
    const lopsided = secondsMore({ value: 0, low: -3, high: 1 }, -1.4, noisy, 600, 600) as number
    expect(lopsided).toBeGreaterThan(even)
  })
})

describe('withLasting', () => {
  it('what a leak has beyond the drop lasts: an interval twice as wide keeps three quarters of its variance (computed)', () => {
    expect(withLasting(noisy, 0.5, 1, 0).lasting).toBeCloseTo(0.75, 12)
    expect(withLasting(noisy, 1, 1, 0).lasting).toBe(0)
    expect(withLasting({ ...noisy, lasting: 0.9 }, 0.5, 1, 0).lasting).toBe(0.9)
  })
  it('eight percent of what the temperature moved lasts as well', () =>
    expect(withLasting(noisy, 1, 1, 10).lasting).toBeCloseTo(0.64, 12))
})
