import { describe, expect, it } from 'vitest'
import type { HoldResult } from '#analysis/model/hold-result.ts'
import { compareResults } from '#dashboard/archive/compare-results.ts'
import { holdDraft } from './bench-archive.ts'

const sealed = holdDraft(null).result as HoldResult
const leakOf = (low: number, high: number) => ({ section: 'left-feed', drop_Pa: { value: 410, low, high } })

describe('compareResults', () => {
  it('compareResults(result, itself) finds no other figure', () => {
    expect(compareResults(sealed, sealed)).toEqual({ sealed: 'pass', recomputed: 'pass', figure: null })
  })

  it('compareResults() names a leak that is computed differently, also where only its bound moved', () => {
    expect(compareResults(sealed, { ...sealed, leak: leakOf(370, 700) }).figure).toContain(
      'leak of left-feed',
    )
    expect(compareResults(sealed, { ...sealed, leak: leakOf(0, 450) }).figure).toContain('leak of left-feed')
  })

  it('compareResults() looks at the leak of every section, and at how many there are', () => {
    const two = { ...sealed, leak: [leakOf(370, 450), leakOf(1, 2)] }
    expect(compareResults(two, { ...sealed, leak: [leakOf(370, 450), leakOf(1, 3)] }).figure).not.toBeNull()
    expect(compareResults(two, sealed).figure).toBe('2 leaks sealed, 1 computed now')
  })

  it('compareResults() names the allowance, the raw drop and the length', () => {
    const wider = { ...sealed, allowance: { drop_Pa: 6900 } }
    expect(compareResults(sealed, wider).figure).toContain('allowance')
    expect(compareResults(sealed, { ...sealed, raw_drop_Pa: 98 }).figure).toContain('raw drop')
    expect(compareResults(sealed, { ...sealed, seconds: 60 }).figure).toContain('length of the hold')
  })
})
