import { describe, expect, it } from 'vitest'
import { EventRing } from '#dashboard/server/stream/event-ring.ts'

describe('EventRing', () => {
  it('positionAfter(id of an event) leads to the event behind it, so that a resumed stream neither misses nor repeats', () => {
    const ring = new EventRing()
    for (const name of ['a', 'b', 'c']) ring.push('samples', `"${name}"`)
    const second = ring.at(1)
    if (second === null || second === 'gone') throw new TypeError('the ring lost an event')
    const position = ring.positionAfter(second.id)
    expect(position).toBe(2)
    expect(ring.at(2)).toMatchObject({ data: '"c"' })
  })

  it('positionAfter() knows the id of an event that fell out of the ring only by its absence: null', () => {
    const ring = new EventRing(3)
    ring.push('samples', '1')
    const first = ring.at(0)
    for (let count = 2; count <= 5; count++) ring.push('samples', String(count))
    expect(ring.at(0)).toBe('gone')
    expect(ring.positionAfter((first as { id: string }).id)).toBeNull()
  })

  it('positionAfter() takes an id of another run of the program for unknown, whatever its number', () => {
    const before = new EventRing()
    const after = new EventRing()
    before.push('beat', '{}')
    after.push('beat', '{}')
    expect(after.positionAfter((before.at(0) as { id: string }).id)).toBeNull()
    for (const nonsense of ['', '.', '1', 'x.-1', 'x.1e3', `${'9'.repeat(400)}.1`]) {
      expect(after.positionAfter(nonsense)).toBeNull()
    }
  })

  it('push() drops the oldest beyond the stated bytes, so that large batches cannot fill the memory', () => {
    const ring = new EventRing(1000, 100)
    for (let count = 0; count < 50; count++) ring.push('samples', 'x'.repeat(40))
    expect(ring.at(47)).toBe('gone')
    expect(ring.at(48)).toMatchObject({ data: 'x'.repeat(40) })
  })

  it('reached() wakes on the event, on close and when the watcher has left', async () => {
    const ring = new EventRing()
    const event = ring.reached(0, () => false)
    ring.push('beat', '{}')
    await event
    let left = false
    const leaving = ring.reached(1, () => left)
    left = true
    ring.wake()
    await leaving
    const closing = ring.reached(1, () => false)
    ring.close()
    await closing
    expect(ring.closed).toBe(true)
  })
})
