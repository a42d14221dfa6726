import { describe, expect, test } from 'vitest'
import { isSuction, limitPa } from '#dashboard/web/parts/hold-limits.ts'

const sections = [
  { maxPressurePa: 10_000, maxVacuumPa: 3000 },
  { maxPressurePa: 8000, maxVacuumPa: null },
  { maxPressurePa: null, maxVacuumPa: 2000 },
]

describe('limitPa(spec, sections)', () => {
  test('is the lowest maximum of the sections, and of a hold under suction their least vacuum as a negative pressure', () => {
    expect(limitPa({ pressurePa: 6000 }, sections)).toBe(8000)
    expect(limitPa({ pressurePa: -1000 }, sections)).toBe(-2000)
  })

  test('is null where no section states one: a maximum for pressure says nothing of a vacuum', () => {
    expect(limitPa({ pressurePa: -1000 }, [sections[1]])).toBeNull()
    expect(limitPa({ pressurePa: 1000 }, [sections[2]])).toBeNull()
  })

  test('isSuction() of no hold is false', () => {
    expect([isSuction(null), isSuction({ pressurePa: -1 })]).toEqual([false, true])
  })
})
