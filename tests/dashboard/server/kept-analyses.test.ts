import { describe, expect, it } from 'vitest'
import { AnswerCache } from '#dashboard/server/session/analysis-thread.ts'

/** A cache whose maker counts what it was asked, and fails as often as told. */
function cache(failing = 0, found: object | null = {}) {
  const asked: string[] = []
  let left = failing
  const kept = new AnswerCache<object | null>(8)
  const of = (key: string) =>
    kept.of(key, async () => {
      asked.push(key)
      if (left-- > 0) throw new Error('the analysis was stopped')
      return found
    })
  return { asked, of }
}

describe('AnswerCache.of(key)', () => {
  it('makes an answer once, also when two pages ask together', async () => {
    const { asked, of } = cache()
    const [one, two] = await Promise.all([of('a'), of('a')])
    expect(await of('a')).toBe(one)
    expect(two).toBe(one)
    expect(asked).toEqual(['a'])
  })

  it('keeps the eight asked for last', async () => {
    const { asked, of } = cache()
    for (const each of 'abcdefgh') await of(each)
    for (const each of 'ai') await of(each)
    asked.length = 0
    for (const each of 'acdefghi') await of(each)
    expect(asked).toEqual([])
    await of('b')
    expect(asked).toEqual(['b'])
  })

  it('makes again what failed', async () => {
    const { asked, of } = cache(1)
    await expect(of('a')).rejects.toThrow('stopped')
    expect(await of('a')).toEqual({})
    expect(asked).toEqual(['a', 'a'])
  })

  it('makes again what could not be computed: its recording may have been put back', async () => {
    const { asked, of } = cache(0, null)
    for (let time = 0; time < 2; time++) expect(await of('a')).toBeNull()
    expect(asked).toEqual(['a', 'a'])
  })
})
