import { describe, expect, it } from 'vitest'
import type { HoldResult } from '#analysis/model/hold-result.ts'
import { holdDifference } from '#dashboard/archive/compare-results.ts'
import { holdDraft } from './bench-archive.ts'

const sealed = holdDraft(null).result as HoldResult
const leakOf = (low: number, high: number) => ({ section: 'left-feed', drop_Pa: { value: 410, low, high } })

describe('holdDifference', () => {
  it('holdDifference(result, itself) finds no other figure', () => {
    expect(holdDifference(sealed, sealed)).toBeNull()
  })

  it('holdDifference() names a leak that is computed differently, also where only its bound moved', () => {
    expect(holdDifference(sealed, { ...sealed, leak: leakOf(370, 700) })).toContain('leak of left-feed')
    expect(holdDifference(sealed, { ...sealed, leak: leakOf(0, 450) })).toContain('leak of left-feed')
  })

  it('holdDifference() looks at the leak of every section, and at how many there are', () => {
    const two = { ...sealed, leak: [leakOf(370, 450), leakOf(1, 2)] }
    expect(holdDifference(two, { ...sealed, leak: [leakOf(370, 450), leakOf(1, 3)] })).not.toBeNull()
    expect(holdDifference(two, sealed)).toBe('2 leaks sealed, 1 computed now')
  })

  it('holdDifference() names the allowance, the raw drop and the length', () => {
    const wider = { ...sealed, allowance: { drop_Pa: 6900 } }
    expect(holdDifference(sealed, wider)).toContain('allowance')
    expect(holdDifference(sealed, { ...sealed, raw_drop_Pa: 98 })).toContain('raw drop')
    expect(holdDifference(sealed, { ...sealed, seconds: 60 })).toContain('length of the hold')
  })
})
