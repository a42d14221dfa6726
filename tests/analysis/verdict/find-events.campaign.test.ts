import { expect, test } from 'vitest'
import { findEvents } from '#analysis/verdict/find-events.ts'
import { curve, leakPerPa, mark, startNs } from './steady-curve.ts'

const work = mark('work', 'F07', 500)

test.each([
  ['white noise', { whitePa: 8, walkPa: 0, correlation: 0 }],
  ['correlated noise', { whitePa: 5, walkPa: 0, correlation: 0.8 }],
  ['a drifting sensor', { whitePa: 5, walkPa: 1.5, correlation: 0 }],
])('findEvents() on 100 steady holds with %s raises at most one false alarm (1 percent)', (_, noise) => {
  let alarms = 0
  for (let seed = 1; seed <= 100; seed++)
    if (findEvents(curve(seed, noise), [work, mark('look', 'F03', 350)], startNs).length > 0) alarms++
  expect(alarms).toBeLessThanOrEqual(1)
})

test('findEvents() covers the true change in at least 93 of 100 holds (95 % interval)', () => {
  let covered = 0
  let seen = 0
  for (let seed = 1; seed <= 100; seed++) {
    const noise = { whitePa: 5, walkPa: 0, correlation: 0.5 }
    const event = findEvents(
      curve(seed, noise, (t) => 0.6 * Math.max(0, t - 300)),
      [work],
      startNs,
    ).find((e) => e.mark)
    if (!event) continue
    seen++
    if (event.change.low <= -0.6 * leakPerPa && event.change.high >= -0.6 * leakPerPa) covered++
  }
  expect(seen).toBeGreaterThanOrEqual(95)
  expect(covered / seen).toBeGreaterThanOrEqual(0.93)
})
