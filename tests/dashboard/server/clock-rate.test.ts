import { describe, expect, it, vi } from 'vitest'
import { BenchClock, LoggerClock } from '#dashboard/server/session/clocks.ts'

/** What is told of a logger over ten minutes: `pointS` at our time `ourS`, one a second. */
function told(pointS: (ourS: number) => number, seconds = 600): { ourS: number; percent: number }[] {
  const clock = new LoggerClock('left')
  return Array.from({ length: seconds }, (_, ourS) =>
    clock
      .update(BigInt(Math.round(pointS(ourS) * 1e9)), BigInt(ourS) * 1_000_000_000n)
      .flatMap((wrong) => ('fast_percent' in wrong ? [{ ourS, percent: wrong.fast_percent }] : [])),
  ).flat()
}

describe('LoggerClock.update(point, monotonic)', () => {
  it('tells a clock of twice the speed after two minutes, and again each half minute', () => {
    const all = told((ourS) => 2 * ourS)
    expect(all[0]).toEqual({ ourS: 120, percent: 100 })
    expect(all[1].ourS).toBe(150)
    const clock = new LoggerClock('left')
    for (let s = 0n; s <= 120n; s++) clock.update(2n * s * 1_000_000_000n, s * 1_000_000_000n)
    expect(clock.messages(0n)).toEqual([
      'The clock of left runs 100 % fast: a hold is shorter than its timestamps show and proves nothing. Correct the logger’s clock frequency.',
    ])
    expect(all).toHaveLength(16)
  })

  it('tells 3 % fast; not 1 % fast, and no slow one: there a leak looks larger', () => {
    expect(told((ourS) => 1.03 * ourS)[0].percent).toBeCloseTo(3, 6)
    expect(told((ourS) => 1.01 * ourS)).toEqual([])
    expect(told((ourS) => 0.5 * ourS)).toEqual([])
  })

  it('begins anew when the connection was opened again, and takes the step in between for no jump', () => {
    const clock = new LoggerClock('left')
    const at = (pointS: number, ourS: number) =>
      clock.update(BigInt(Math.round(pointS * 1e9)), BigInt(ourS) * 1_000_000_000n)
    const fast = (fromS: number, toS: number) =>
      Array.from({ length: toS - fromS }, (_, s) => at(1.1 * (fromS + s), fromS + s)).flat()
    expect(fast(0, 110)).toEqual([])
    clock.reopened()
    expect(at(1000, 110)).toEqual([])
    clock.reopened()
    expect([fast(111, 231).length, fast(231, 240).length]).toEqual([0, 1])
  })

  it('takes an hour that waited and comes in a burst for late, not for fast', () => {
    expect(told((ourS) => (ourS < 100 ? 60 * ourS : 5900 + ourS))).toEqual([])
  })

  it('takes batches every 15 s and a delay that varies by 3 s for a clock that is right', () => {
    expect(told((ourS) => 15 * Math.floor(ourS / 15))).toEqual([])
    expect(told((ourS) => ourS - 1.5 * (1 + Math.sin(ourS / 7)))).toEqual([])
  })
})

describe('BenchClock', () => {
  it.each([
    [true, 2_500_000_010n],
    [false, 10n],
  ])('runs on between the samples of a bench in real time (%s) and never goes back', (runsOn, afterNs) => {
    vi.useFakeTimers({ toFake: ['hrtime'] })
    const clock = new BenchClock(runsOn)
    expect(clock.nowNs()).toBeNull()
    clock.update(10n)
    vi.advanceTimersByTime(2500)
    // Loggers send the lines of one instant in any order.
    clock.update(7n)
    expect([clock.newestNs, clock.nowNs()]).toEqual([10n, afterNs])
    clock.restart()
    clock.update(7n)
    expect(clock.nowNs()).toBe(7n)
    vi.useRealTimers()
  })
})
