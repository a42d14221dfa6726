import { expect, test } from 'vitest'
import { findEvents } from '#analysis/verdict/find-events.ts'
import { curve, leakPerPa, mark, startNs } from './steady-curve.ts'

const work = mark('work', 'F07', 500)

test('findEvents() finds the leak that stops at the work on a fitting, with the true change inside (law)', () => {
  const [event] = findEvents(
    curve(5, { whitePa: 5, walkPa: 0, correlation: 0 }, (t) => 0.4 * Math.max(0, t - 300)),
    [work],
    startNs,
  )
  expect(event).toMatchObject({ kind: 'slope', mark: { kind: 'work', id: 'F07' }, time_ns: work.timeNs })
  expect(event.change.unit).toBe('mol_per_s')
  expect(event.change.low).toBeLessThan(-0.4 * leakPerPa)
  expect(event.change.high).toBeGreaterThan(-0.4 * leakPerPa)
  expect(event.probability).toBeGreaterThan(0.95)
  expect(event.message).toBe('The leak of left-feed fell at the mark work F07.')
})

test('findEvents() finds a step that no mark explains, within 20 s of its time (law)', () => {
  const [event] = findEvents(
    curve(7, { whitePa: 5, walkPa: 0, correlation: 0 }, (t) => (t > 400 ? -60 : 0)),
    [],
    startNs,
  )
  expect(event).toMatchObject({ kind: 'step', mark: null })
  expect(event.message).toBe('The pressure of left-feed stepped down without a mark.')
  const atS = Number(BigInt(event.time_ns) - BigInt(startNs)) / 1e9
  expect(Math.abs(atS - 600)).toBeLessThan(20)
  expect(event.change.low).toBeLessThan(-60)
  expect(event.change.high).toBeGreaterThan(-60)
})

test('findEvents() of fewer than 20 blocks says nothing (refuses)', () => {
  const { section, timeS, compensatedPa } = curve(1, { whitePa: 1, walkPa: 0, correlation: 0 })
  const short = { section, timeS: timeS.slice(0, 15), compensatedPa: compensatedPa.slice(0, 15) }
  expect(findEvents({ ...short, leakPerPa, leakUnit: 'mol_per_s' }, [work], startNs)).toEqual([])
})
