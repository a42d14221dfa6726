import { expect, test } from 'vitest'
import { allowanceLine, holdPart, type WireCurves } from '#dashboard/web/parts/hold-limits.ts'

test('allowanceLine() of a hold that ended after 3 of its 5 min grants three fifths of the drop, not all of it', () => {
  expect(allowanceLine(1000, 100, { heldS: 180, statedS: 300 })).toEqual({ x: [0, 180], y: [1000, 940] })
})
test('allowanceLine() of a hold that went on for twice its time runs on as steeply', () => {
  expect(allowanceLine(1000, 100, { heldS: 600, statedS: 300 }).y).toEqual([1000, 800])
})
test('allowanceLine() under suction rises', () => {
  expect(allowanceLine(-1000, 100, { heldS: 300, statedS: 300 }).y).toEqual([-1000, -900])
})
test('allowanceLine() draws nothing where the stated time is not known, rather than a line too steep', () => {
  expect(allowanceLine(1000, 100, { heldS: 180, statedS: null }).y).toEqual([null, null])
})

test('holdPart() cuts each column to the last seconds and leaves what is no column (by construction)', () => {
  const column = [0, 1, 2, 3]
  const curve = { section: 'left-feed', holdStartS: 2, timeS: column, gaugePa: column, temperatureK: null }
  expect(holdPart(curve as unknown as WireCurves, 1)).toEqual({
    section: 'left-feed',
    holdStartS: 2,
    timeS: [2, 3],
    gaugePa: [2, 3],
    temperatureK: null,
  })
})
