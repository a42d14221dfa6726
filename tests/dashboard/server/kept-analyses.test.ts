import { describe, expect, it } from 'vitest'
import type { HoldAnalysis } from '#analysis/model/hold-result.ts'
import type { SealedRecord } from '#dashboard/archive/record.ts'
import { AnalysisCache } from '#dashboard/server/session/analysis-cache.ts'

/** A thread that counts what it was asked, and fails as often as told. */
function thread(failing = 0, found: HoldAnalysis | null = {} as HoldAnalysis) {
  const asked: string[] = []
  let left = failing
  return {
    asked,
    async recompute({ signature }: SealedRecord) {
      asked.push(signature)
      if (left-- > 0) throw new Error('the analysis was stopped')
      return found
    },
  }
}

const record = (signature: string) => ({ signature }) as SealedRecord

describe('AnalysisCache.of(record)', () => {
  it('computes a record once, also when two pages open it together', async () => {
    const own = thread()
    const kept = new AnalysisCache(own)
    await Promise.all([kept.of(record('a'), null), kept.of(record('a'), null)])
    await kept.of(record('a'), null)
    expect(own.asked).toEqual(['a'])
  })

  it('keeps the eight opened last', async () => {
    const own = thread()
    const kept = new AnalysisCache(own)
    for (const each of 'abcdefgh') await kept.of(record(each), null)
    for (const each of 'ai') await kept.of(record(each), null)
    own.asked.length = 0
    for (const each of 'acdefghi') await kept.of(record(each), null)
    expect(own.asked).toEqual([])
    await kept.of(record('b'), null)
    expect(own.asked).toEqual(['b'])
  })

  it('computes again what failed', async () => {
    const own = thread(1)
    const kept = new AnalysisCache(own)
    await expect(kept.of(record('a'), null)).rejects.toThrow('stopped')
    expect(await kept.of(record('a'), null)).toEqual({})
    expect(own.asked).toEqual(['a', 'a'])
  })

  it('computes again what could not be computed: its recording may have been put back', async () => {
    const own = thread(0, null)
    const kept = new AnalysisCache(own)
    for (let time = 0; time < 2; time++) expect(await kept.of(record('a'), null)).toBeNull()
    expect(own.asked).toEqual(['a', 'a'])
  })
})
