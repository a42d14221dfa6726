import { describe, expect, it } from 'vitest'
import { ChannelColumns, extremes } from '#dashboard/server/session/columns.ts'

describe('ChannelColumns', () => {
  it('since() gives back every sample as long as they fit', () => {
    const columns = new ChannelColumns()
    for (let index = 0; index < 5000; index++) columns.append(index / 10, Math.sin(index))
    const { timeS, reading } = columns.since(100)
    expect(timeS.length).toBe(4000)
    expect([timeS[0], reading[0]]).toEqual([100, Math.sin(1000)])
    expect(columns.newest).toEqual({ timeS: 499.9, reading: Math.sin(4999) })
  })

  it('append() without end stays within its bound, in the order of time, and loses no spike', () => {
    const columns = new ChannelColumns(4096)
    const count = 1_000_000
    for (let index = 0; index < count; index++) {
      columns.append(index, index === 12_345 ? 99 : index === 600_001 ? -99 : Math.sin(index))
    }
    const { timeS, reading } = columns.since(0)
    expect(timeS.length).toBeLessThan(3 * 4096)
    expect(Math.max(...reading)).toBe(99)
    expect(timeS[reading.indexOf(99)]).toBe(12_345)
    expect(timeS[reading.indexOf(-99)]).toBe(600_001)
    expect(timeS.every((time, index) => index === 0 || time > timeS[index - 1])).toBe(true)
    expect(timeS.at(-1)).toBe(count - 1)
  })
})

describe('extremes()', () => {
  it('keeps the smallest and largest of each so many samples, in the order of time', () => {
    const timeS = Float64Array.from({ length: 100 }, (_, index) => index / 1000)
    const reading = timeS.map((_, index) => (index === 37 ? 50 : 0))
    const kept = extremes({ timeS, reading }, 10)
    expect(kept.timeS.length).toBeLessThanOrEqual(20)
    expect([...kept.reading].filter((each) => each === 50)).toHaveLength(1)
    expect(kept.timeS[kept.reading.indexOf(50)]).toBe(0.037)
    expect([...kept.timeS]).toEqual([...kept.timeS].sort((a, b) => a - b))
  })
})
