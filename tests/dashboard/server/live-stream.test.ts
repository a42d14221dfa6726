import { createConnection } from 'node:net'
import { serve } from '@hono/node-server'
import { Hono } from 'hono'
import { afterEach, describe, expect, it } from 'vitest'
import type { SampleBatch } from '#dashboard/api.ts'
import type { Env } from '#dashboard/server/http/guard.ts'
import { EventRing } from '#dashboard/server/stream/event-ring.ts'
import { streamRoute } from '#dashboard/server/stream/stream-route.ts'
import { StreamReader } from './read-stream.ts'
import { until } from './until.ts'

const servers: ReturnType<typeof serve>[] = []

/** The stream alone, over real sockets. */
async function openStream(ring: EventRing, stalledAfterMs?: number): Promise<number> {
  const app = new Hono<Env>()
  app.use(async (context, next) => {
    context.set('role', 'viewer')
    await next()
  })
  app.get('/api/stream', streamRoute({ ring, state: () => ({ nowS: ring.end }) as never, stalledAfterMs }))
  const server = serve({ fetch: app.fetch, port: 0, hostname: '127.0.0.1' })
  servers.push(server)
  return new Promise((resolve) =>
    server.on('listening', () => resolve((server.address() as { port: number }).port)),
  )
}

afterEach(() => {
  for (const server of servers.splice(0)) {
    server.close()
    if ('closeAllConnections' in server) server.closeAllConnections()
  }
})

const numbered = (number: number) =>
  JSON.stringify({ channels: { p: { timeS: [number], reading: [number] } } } satisfies SampleBatch)
const numbersOf = (reader: StreamReader) =>
  reader.events
    .filter(({ event }) => event === 'samples')
    .map(({ data }) => (JSON.parse(data) as SampleBatch).channels.p.timeS[0])

describe('GET /api/stream', () => {
  it('begins with the state and the watcher’s role, then sends what happens', async () => {
    const ring = new EventRing()
    const port = await openStream(ring)
    const reader = new StreamReader(port)
    await until(() => reader.events.length > 0)
    expect(reader.events[0]).toMatchObject({ event: 'state', data: '{"nowS":0,"role":"viewer"}' })
    ring.push('state', '{"nowS":7}')
    ring.push('beat', '{}')
    await until(() => reader.events.length >= 3)
    expect(reader.events.slice(1).map(({ event, data }) => [event, data])).toEqual([
      ['state', '{"nowS":7,"role":"viewer"}'],
      ['beat', '{}'],
    ])
    reader.close()
  })

  it('resumes by Last-Event-ID without a gap or a repeat, however often the line is lost', async () => {
    const ring = new EventRing()
    const port = await openStream(ring)
    const seen: number[] = []
    let lastId: string | undefined
    let next = 0
    const producer = setInterval(() => ring.push('samples', numbered(next++)), 2)
    for (let round = 0; round < 12; round++) {
      const reader = new StreamReader(port, lastId === undefined ? {} : { 'last-event-id': lastId })
      await until(() => reader.events.length > 7, 2)
      reader.close()
      const events = [...reader.events]
      lastId = events.at(-1)?.id
      for (const { event, data } of events) {
        if (event === 'samples') seen.push((JSON.parse(data) as SampleBatch).channels.p.timeS[0])
        else expect([event, round]).toEqual(['state', 0])
      }
    }
    clearInterval(producer)
    expect(seen.length).toBeGreaterThan(80)
    expect(seen).toEqual(seen.map((_, index) => seen[0] + index))
  })

  it('resumes without a gap when the line is lost right after the first state', async () => {
    const ring = new EventRing()
    ring.push('samples', numbered(0))
    const port = await openStream(ring)
    const first = new StreamReader(port)
    await until(() => first.events.length > 0)
    first.close()
    ring.push('samples', numbered(1))
    const again = new StreamReader(port, { 'last-event-id': first.events[0].id })
    await until(() => again.events.length > 0)
    expect(numbersOf(again)).toEqual([1])
    again.close()
  })

  it('says restart, then the state, to a page whose last event is no longer kept', async () => {
    const ring = new EventRing(5)
    for (let count = 0; count < 20; count++) ring.push('samples', numbered(count))
    const port = await openStream(ring)
    for (const lastId of ['0123456789ab.4', 'nonsense', ring.resumeId(3)]) {
      const reader = new StreamReader(port, { 'last-event-id': lastId })
      await until(() => reader.events.length >= 2)
      expect(reader.events.map(({ event }) => event)).toEqual(['restart', 'state'])
      reader.close()
    }
  })

  it('drops a watcher that takes nothing, while another one gets every event and the memory stays bounded', async () => {
    const ring = new EventRing(200, 4_000_000)
    const port = await openStream(ring, 300)
    const stalled = createConnection({ port, host: '127.0.0.1' })
    stalled.write('GET /api/stream HTTP/1.1\r\nhost: 127.0.0.1\r\n\r\n')
    stalled.pause()
    stalled.on('error', () => {})
    const reader = new StreamReader(port)
    await until(() => reader.events.length > 0)
    const large = 'x'.repeat(100_000)
    const before = process.memoryUsage().rss
    // 60 MB in all: far more than the sockets' own buffers hold.
    for (let count = 0; count < 600; count++) {
      ring.push('samples', JSON.stringify({ count, large }))
      await until(() => reader.events.length > count + 1, 1)
    }
    expect(reader.events.filter(({ event }) => event === 'samples')).toHaveLength(600)
    stalled.resume()
    await new Promise<void>((resolve) => stalled.once('close', () => resolve()))
    expect(process.memoryUsage().rss - before).toBeLessThan(250_000_000)
    reader.close()
  })

  it('ends every stream when the ring is closed', async () => {
    const ring = new EventRing()
    const port = await openStream(ring)
    const reader = new StreamReader(port)
    await until(() => reader.events.length > 0)
    ring.close()
    await until(() => reader.ended)
    expect(reader.events).toHaveLength(1)
  })
})
