import { describe, expect, test } from 'vitest'
import { LiveTrace } from '#dashboard/web/live/live-trace.ts'

const fill = (trace: LiveTrace, hours: number, perS: number): void => {
  for (let i = 0; i <= hours * 3600 * perS; i++) trace.add(i / perS, Math.sin(i / perS / 600) * 100)
}

describe('LiveTrace', () => {
  test('add(hour 24) draws no more points than hour 1: the slices grow wider, not more', () => {
    const hour = new LiveTrace(0.25, null)
    fill(hour, 1, 10)
    const day = new LiveTrace(0.25, null)
    fill(day, 24, 10)
    const points = (trace: LiveTrace): number => trace.columns(0, 1, 0).x.length
    expect(points(day)).toBeLessThanOrEqual(1.1 * points(hour))
    expect(points(day)).toBeGreaterThan(800)
  })

  test('columns() runs forward in time, whatever the slices have gone through', () => {
    const trace = new LiveTrace(0.25, null, 128)
    for (let i = 0; i < 9000; i++) trace.add(i / 7, Math.sin(i * 12.9898) * 50)
    const { x } = trace.columns(0, 1, 0)
    expect([...x]).toEqual([...x].sort((a, b) => a - b))
    expect(new Set(x).size).toBe(x.length)
  })

  test('columns() keeps the one reading that stood out, however coarse the slices have become', () => {
    const trace = new LiveTrace(0.25, null, 64)
    for (let i = 0; i < 20_000; i++) trace.add(i / 10, i === 7001 ? 99 : i === 7002 ? -99 : 0)
    const { y } = trace.columns(0, 1, 0)
    expect(y).toContain(99)
    expect(y).toContain(-99)
  })

  test('columns() converts by slope and offset: 291.15 K is 18 °C', () => {
    const trace = new LiveTrace(1, null)
    trace.add(0.5, 291.15)
    expect(trace.columns(0, 1, -273.15).y[0]).toBeCloseTo(18, 9)
  })

  test('columns() shows a silence of the logger as a gap, not as a line', () => {
    const trace = new LiveTrace(0.5, null)
    for (let t = 0; t < 20; t += 0.5) trace.add(t, 1)
    for (let t = 60; t < 80; t += 0.5) trace.add(t, 1)
    const { x, y } = trace.columns(0, 1, 0)
    const at = y.findIndex(Number.isNaN)
    expect(at).toBeGreaterThan(0)
    expect(x[at - 1]).toBeLessThan(20.1)
    expect(x[at]).toBeCloseTo(60, 4)
    expect(y.filter(Number.isNaN)).toHaveLength(1)
  })

  test('add() of a time that was already there changes nothing: what overlaps the history is drawn once', () => {
    const trace = new LiveTrace(0.5, null)
    trace.add(1, 5)
    trace.add(1, 500)
    trace.add(0.2, -500)
    const { x, y } = trace.columns(0, 1, 0)
    expect([[...x], [...y]]).toEqual([[1], [5]])
  })

  test('add() with a window forgets what has left it', () => {
    const trace = new LiveTrace(0.5, 60, 200)
    for (let t = 0; t < 1000; t += 0.5) trace.add(t, t)
    expect(trace.columns(0, 1, 0).x[0]).toBeGreaterThan(850)
    expect(trace.width).toBe(0.5)
  })
})
