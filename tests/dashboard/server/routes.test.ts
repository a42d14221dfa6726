import { readFileSync } from 'node:fs'
import { connect, type Socket } from 'node:net'
import { afterAll, afterEach, beforeAll, describe, expect, it } from 'vitest'
import { benchRoutes } from '#dashboard/server/http/bench-routes.ts'
import type { Route } from '#dashboard/server/http/guard.ts'
import { methods, serveRoutes } from '#dashboard/server/http/routes.ts'
import { Sharing } from '#dashboard/server/http/sharing.ts'
import type { RunningBench } from '#dashboard/server/start-bench.ts'
import { ask } from './ask.ts'
import { benchFolder, openBench } from './open-bench.ts'

const at = benchFolder()
let bench: RunningBench
let port = 0
let routes: readonly Route[]

beforeAll(async () => {
  bench = await openBench(at, { writeToken: 'test-token' })
  port = bench.server.port
  routes = benchRoutes({
    version: '0',
    session: bench.session,
    archive: bench.archive,
    recordThread: null as never,
    page: new Map(),
    sharing: new Sharing(),
    port: () => port,
    scheme: 'http',
    takesPoints: true,
    demo: {} as never,
    workshop: {} as never,
  })
})
afterAll(async () => {
  await bench.stop()
  at.remove()
})

const page = readFileSync(new URL('../../../docs/http-api.md', import.meta.url), 'utf8')

describe('every route', () => {
  it('stands in the table of docs/http-api.md with who may ask and how much may be sent, and no other does', () => {
    const written = [...page.matchAll(/^\| `(\w+) (\S+)` \| (\w+) \| ([^|]*) \|/gm)].map((row) =>
      row.slice(1, 5).map((cell) => cell.trim()),
    )
    const size = ({ bodyBytes = 0 }: Route) =>
      bodyBytes === 0
        ? ''
        : bodyBytes < 1e6
          ? `${bodyBytes / 1024} kB`
          : `${Math.floor(bodyBytes / (bodyBytes % 1e6 === 0 ? 1e6 : 1024 ** 2))} MB`
    expect(written).toEqual(routes.map((route) => [route.method, route.path, route.for, size(route)]))
  })

  it('refuses a stranger before it is reached: a foreign Host, another site, no cookie or token, too large a body', async () => {
    const reached: string[] = []
    const probes = routes.map((route): Route => {
      const answer: Route['answer'] = () => {
        reached.push(`${route.method} ${route.path}`)
        return new Response('reached')
      }
      return { ...route, answer }
    })
    const app = serveRoutes(probes, {
      sharing: new Sharing(),
      lan: true,
      port: () => 80,
      scheme: 'http',
      writeToken: 'right',
    })
    const stranger = { incoming: { socket: { remoteAddress: '192.0.2.7' } } }
    const self = { incoming: { socket: { remoteAddress: '127.0.0.1' } } }
    const asked = async (route: Route, headers: Record<string, string>, from: unknown) => {
      const path = `http://localhost${route.path.replace(':id', '1').replace('*', '')}`
      const type = { host: 'localhost', 'content-type': 'application/json' }
      return (
        await app.request(path, { method: route.method, headers: { ...type, ...headers } }, from as object)
      ).status
    }
    for (const route of probes) {
      expect(await asked(route, { host: 'page.example' }, self)).toBe(421)
      expect(await asked(route, { origin: 'http://page.example' }, self)).toBe(403)
      if (route.for !== 'anyone') expect([303, 401]).toContain(await asked(route, {}, stranger))
      if (route.for === 'logger') expect(await asked(route, { authorization: 'Token wrong' }, self)).toBe(401)
      const large = { 'content-length': String((route.bodyBytes ?? 0) + 1), authorization: 'Token right' }
      expect(await asked(route, large, self)).toBe(413)
    }
    expect(reached).toEqual([])
    for (const route of probes) await asked(route, { authorization: 'Token right' }, self)
    expect(reached).toEqual(probes.map(({ method, path }) => `${method} ${path}`))
  })

  it('answers any other method with 405 and what it takes', async () => {
    const posted = await ask(port, { method: 'POST', path: '/api/state' })
    expect([posted.status, posted.headers.allow]).toEqual([405, 'GET'])
    expect((await ask(port, { path: '/write' })).status).toBe(405)
    for (const method of methods.filter((each) => each !== 'GET'))
      expect((await ask(port, { method, path: '/nothing' })).status).toBe(404)
  })
})

describe('one client that takes all it can get', () => {
  const sockets: Socket[] = []
  afterEach(() => {
    for (const socket of sockets.splice(0)) socket.destroy()
  })
  const open = (text: string) =>
    new Promise<void>((resolve) => {
      const socket = connect(port, '127.0.0.1', () => {
        socket.write(text)
        resolve()
      })
      socket.on('error', () => {}).pause()
      sockets.push(socket)
    })
  const head = `host: 127.0.0.1:${0}`
  const headed = (line: string, rest: string) =>
    `${line} HTTP/1.1\r\n${head.replace(':0', `:${port}`)}\r\n${rest}`

  it.each([
    ['connections without a word', () => ''],
    ['connections with half a head', () => headed('GET /', '')],
    [
      'connections with a body that does not come',
      () => headed('POST /api/mark', 'content-type: application/json\r\ncontent-length: 9\r\n\r\n'),
    ],
    ['streams that are not read', () => headed('GET /api/stream', '\r\n')],
  ])('300 %s from one address: the page and a logger are answered', async (_what, text) => {
    for (let n = 0; n < 300; n++) await open(text())
    expect((await ask(port, { path: '/api/state' })).status).toBe(200)
    const written = await ask(port, {
      method: 'POST',
      path: '/api/v2/write',
      headers: { authorization: 'Token test-token' },
      body: 'logger p3=10,t3=20,baro=1013 1767225600000000000\n',
    })
    expect(written.status).toBe(204)
  })

  it('a body of 1.5 GB for POST /query is refused by its length, and one in chunks too', async () => {
    const path = '/query'
    const large = await ask(port, { method: 'POST', path, headers: { 'content-length': '1500000000' } })
    expect(large.status).toBe(413)
    const chunked = await ask(port, {
      method: 'POST',
      path,
      headers: { 'transfer-encoding': 'chunked' },
      body: 'q=',
    })
    expect(chunked.status).toBe(411)
  })
})
