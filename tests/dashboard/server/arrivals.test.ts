import { describe, expect, it } from 'vitest'
import { Arrivals } from '#dashboard/server/session/live-channels.ts'

/** Readings that come at the given times [s]; how long it is quiet at the last of them. */
function quietAt(arrivalsS: readonly number[], nowS: number): number | null {
  let clockMs = 0
  const arrivals = new Arrivals(() => clockMs)
  for (const atS of arrivalsS) {
    clockMs = atS * 1000
    arrivals.came()
  }
  clockMs = nowS * 1000
  return arrivals.quietS
}

describe('Arrivals', () => {
  it('quietS is null for 3 s after a reading and then counts', () => {
    expect(quietAt([0, 0.1, 0.2, 0.3], 3.2)).toBeNull()
    expect(quietAt([0, 0.1, 0.2, 0.3], 3.4)).toBeCloseTo(3.1)
    expect(quietAt([], 100)).toBeNull()
  })

  it('quietS waits two and a half of the usual pauses: a barometer each 10 s, batches of ten readings', () => {
    expect(quietAt([0, 10, 20, 30], 54)).toBeNull()
    expect(quietAt([0, 10, 20, 30], 56)).toBeCloseTo(26)
    expect(quietAt([0, 0, 0, 10, 10, 10, 20, 20, 30, 30], 50)).toBeNull()
  })

  it('quietS does not take one long silence for the usual pause', () => {
    expect(quietAt([0, 0.5, 1, 1.5, 120, 120.5], 124)).toBeCloseTo(3.5)
  })
})
