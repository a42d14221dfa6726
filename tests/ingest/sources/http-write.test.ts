import { createServer, type Server } from 'node:http'
import type { AddressInfo } from 'node:net'
import { gzipSync } from 'node:zlib'
import { getRequestListener } from '@hono/node-server'
import { InfluxDB, Point } from '@influxdata/influxdb-client'
import { afterAll, beforeAll, beforeEach, describe, expect, test } from 'vitest'
import { HttpWrite, type HttpWriteOptions } from '#ingest/sources/http-write.ts'
import { Heard } from './heard.ts'
import { until } from './pseudo-terminal.ts'

const post = (path: string, body: string | Uint8Array<ArrayBuffer>, headers: Record<string, string> = {}) =>
  new Request(`http://bench${path}`, { method: 'POST', body, headers })

function endpoint(options: Partial<HttpWriteOptions> = {}) {
  const heard = new Heard()
  const write = new HttpWrite({ sink: heard, ...options })
  return { heard, write }
}

describe('HttpWrite with the official client, unmodified', () => {
  let server: Server
  let url: string
  let heard: Heard
  let current: HttpWrite
  beforeAll(async () => {
    server = createServer(getRequestListener((request) => current.respond(request)))
    await new Promise<void>((resolve) => server.listen(0, '127.0.0.1', resolve))
    url = `http://127.0.0.1:${(server.address() as AddressInfo).port}`
  })
  afterAll(() => {
    server.closeAllConnections()
    server.close()
  })
  beforeEach(() => {
    heard = new Heard()
    current = new HttpWrite({ sink: heard })
  })

  test.each([
    ['ns', '1767225600123456789', '1767225600123456789'],
    ['us', '1767225600123456', '1767225600123456000'],
    ['ms', '1767225600123', '1767225600123000000'],
    ['s', '1767225600', '1767225600000000000'],
  ] as const)(
    'writes with precision %s arrive to the nanosecond, with and without gzip',
    async (precision, sent, kept) => {
      for (const gzipThreshold of [0, 1_000_000]) {
        const api = new InfluxDB({ url, token: 'any' }).getWriteApi('org', 'bucket', precision, {
          gzipThreshold,
        })
        api.writePoint(
          new Point('logger')
            .tag('port', 'a b')
            .floatField('p1', 10.25)
            .intField('seq', 7)
            .stringField('note', 'a "b", c')
            .timestamp(sent),
        )
        await api.close()
      }
      const point = `logger,port=a\\ b note="a \\"b\\", c",p1=10.25,seq=7i ${kept}`
      expect(heard.points).toEqual([point, point])
    },
  )

  test('20,000 points in batches arrive once each and in order', async () => {
    const api = new InfluxDB({ url, token: 'any' }).getWriteApi('org', 'bucket', 'ms', { batchSize: 1000 })
    for (let i = 0; i < 20_000; i++)
      api.writePoint(
        new Point('logger')
          .floatField('p1', i)
          .intField('seq', i)
          .timestamp(1767225600000 + i),
      )
    await api.close()
    // The client's close() does not wait for batches in flight.
    await until(() => heard.points.length >= 20_000)
    expect(heard.points).toHaveLength(20_000)
    expect(new Set(heard.points).size).toBe(20_000)
    expect(current.state(process.hrtime.bigint())).toMatchObject({ lines: 20_000, rejected: 0, missing: 0 })
  })
})

describe('HttpWrite.respond', () => {
  test.each(['/write?db=bench', '/api/v2/write?org=o&bucket=b', '/api/v3/write_lp?db=b'])(
    'POST %s of good lines answers 204 after they are kept',
    async (path) => {
      let synced = 0
      const keep = (take: () => void) => {
        take()
        synced = heard.points.length
      }
      const { heard, write } = endpoint({ keep })
      const response = await write.respond(
        post(path, 'logger p1=1 1767225600000000000\nlogger p1=2 1767225601000000000'),
      )
      expect(response.status).toBe(204)
      expect(heard.points).toHaveLength(2)
      expect(synced).toBe(2)
    },
  )
  test.each([
    ['', '1767225600', '1767225600000000000'],
    ['&precision=auto', '1767225600123', '1767225600123000000'],
    ['', '1767225600123456', '1767225600123456000'],
    ['&precision=auto', '1767225600123456789', '1767225600123456789'],
    ['&precision=millisecond', '1767225600123', '1767225600123000000'],
    ['&precision=second', '1767225600', '1767225600000000000'],
  ])(
    'POST /api/v3/write_lp%s reads the time %s as %s (server documentation: precision auto guesses by size)',
    async (precision, sent, kept) => {
      const { heard, write } = endpoint()
      const response = await write.respond(post(`/api/v3/write_lp?db=b${precision}`, `logger p1=1 ${sent}`))
      expect(response.status).toBe(204)
      expect(heard.points).toEqual([`logger p1=1 ${kept}`])
    },
  )
  test('only version 3 of the protocol guesses: precision auto on another path is refused', async () => {
    const { write } = endpoint()
    expect((await write.respond(post('/write?precision=auto', 'logger p1=1 1767225600'))).status).toBe(400)
  })
  test('each line without a time gets its own arrival time', async () => {
    const { heard, write } = endpoint()
    await write.respond(post('/write', 'logger p1=1\nlogger p1=2\n'))
    const [first, second] = heard.points.map((line) => BigInt(line.split(' ')[2]))
    expect(second - first).toBe(1n)
  })
  test('good lines are accepted, bad ones kept as bytes, and the response names the first bad line', async () => {
    const { heard, write } = endpoint()
    const response = await write.respond(
      post('/write', 'logger p1=1\nlogger p1=101.325000.2\n\nlogger p1=\n'),
    )
    expect(response.status).toBe(400)
    expect(await response.json()).toMatchObject({
      code: 'invalid',
      error: expect.stringMatching(/^unable to parse line 2, column 21: .*; 2 lines refused, 1 taken$/),
    })
    expect(heard.points).toHaveLength(1)
    expect(heard.rejects).toHaveLength(2)
  })
  test('a sink that cannot keep the points answers 503, so that the client retries', async () => {
    const { write } = endpoint({
      keep: () => {
        throw new Error('disk full')
      },
    })
    const response = await write.respond(post('/write', 'logger p1=1\n'))
    expect(response.status).toBe(503)
    expect(response.headers.get('retry-after')).toBe('5')
  })
  test.each([
    ['a wrong precision', '/write?precision=h', 'logger p1=1', {}, 400, /precision h/],
    ['no gzip where it says gzip', '/write', 'logger p1=1', { 'content-encoding': 'gzip' }, 400, /not gzip/],
    ['an encoding nobody sends', '/write', 'x', { 'content-encoding': 'br' }, 415, /must be gzip or none/],
    [
      'a small body that unpacks to 64 MB',
      '/write',
      gzipSync(Buffer.alloc(64_000_000)),
      { 'content-encoding': 'gzip' },
      413,
      /smaller batches/,
    ],
    [
      'a path of no write',
      '/api/v3/write',
      'logger p1=1',
      {},
      404,
      /\/write, \/api\/v2\/write or \/api\/v3\/write_lp/,
    ],
  ] as const)('%s is refused in one plain sentence', async (_what, path, body, headers, status, message) => {
    const { heard, write } = endpoint()
    const response = await write.respond(post(path, body, headers))
    expect(response.status).toBe(status)
    expect((await response.json()).error).toMatch(message)
    expect(heard.points).toEqual([])
  })
  test('queries of old clients before they write get the expected answers', async () => {
    const { write } = endpoint()
    expect((await write.respond(new Request('http://bench/ping'))).status).toBe(204)
    expect(await (await write.respond(new Request('http://bench/health'))).json()).toMatchObject({
      status: 'pass',
    })
    const create = await write.respond(
      post('/query', new URLSearchParams({ q: 'CREATE DATABASE bench' }).toString()),
    )
    expect(await create.json()).toEqual({ results: [{ statement_id: 0 }] })
    const read = await write.respond(new Request('http://bench/query?q=SELECT%20*%20FROM%20logger'))
    expect(await read.json()).toMatchObject({ results: [{ error: expect.stringMatching(/writes only/) }] })
  })
})
