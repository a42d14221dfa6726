import http from 'node:http'
import { syncBuiltinESMExports } from 'node:module'
import { networkInterfaces } from 'node:os'
import { afterEach, describe, expect, it, vi } from 'vitest'
import { ArchiveError } from '#dashboard/archive/archive-error.ts'
import type { Route } from '#dashboard/server/http/guard.ts'
import { networkAddresses, ownHosts } from '#dashboard/server/http/own-hosts.ts'
import { packageFolder } from '#dashboard/server/http/package-folder.ts'
import { RequestError } from '#dashboard/server/http/request-error.ts'
import { RouteTable, serveRoutes } from '#dashboard/server/http/routes.ts'
import { startServer } from '#dashboard/server/http/server.ts'
import { ask } from './ask.ts'
import { guarded, here, json, reading, there } from './guarded.ts'

describe('a refused request', () => {
  it.each([
    [
      ...[here, 'GET /', { host: 'page.example' }, 421],
      'This address does not belong to the bench: open the page by the address the program printed.',
    ],
    [
      ...[here, 'GET /', { origin: 'http://page.example' }, 403],
      'Requests from other sites are refused: open the page itself.',
    ],
    [
      here,
      'PUT /api/text',
      { 'content-type': 'text/json' },
      415,
      'Send JSON, with content-type: application/json.',
    ],
    [
      ...[there, 'GET /api/seen', {}, 401],
      'This device has not joined the bench: open /join and enter the code from the terminal.',
    ],
    [
      ...[there, 'POST /api/done', { role: 'viewer' }, 403],
      'This device may only watch: join with the operator’s code to do that.',
    ],
    [
      ...[here, 'POST /form', { 'transfer-encoding': 'chunked' }, 411],
      'Send the body in one piece, with its content-length.',
    ],
    [here, 'GET /', { 'content-length': '1' }, 413, 'This request takes no body.'],
    [here, 'PUT /api/text', { 'content-length': '1048577' }, 413, 'The request is larger than 1 MB.'],
    [here, 'POST /api/done', { 'content-length': '262145' }, 413, 'The request is larger than 256 kB.'],
    [here, 'POST /api/seen', {}, 405, '/api/seen takes GET only.'],
    [here, 'GET /form', {}, 405, '/form takes POST only.'],
    [here, `GET /${'x'.repeat(200)}`, {}, 404, `There is nothing at /${'x'.repeat(99)}.`],
  ] as const)(
    'from %s, %s with %j, is told %i and why: %s',
    async (from, request, { ...given }, status, why) => {
      const { ask: asked, device } = guarded()
      const { role, ...headers } = given as Record<string, string>
      const cookie = role === undefined ? '' : device('viewer')
      const answer = await asked(from, request, { ...json, cookie, ...headers })
      expect([answer.status, JSON.parse(answer.text)]).toEqual([status, { error: why }])
    },
  )

  it('leads a device that has not joined to the join page, but only for a page that it reads', async () => {
    const { ask: asked } = guarded()
    const page = await asked(there, 'GET /')
    expect([page.status, page.headers.get('location')]).toEqual([303, '/join'])
  })

  it('tells a logger without the token where its clients read it', async () => {
    const { ask: asked } = guarded()
    const message = 'the token is missing or wrong; see the line that the bench prints at its start'
    const answer = await asked(here, 'POST /write', { authorization: 'Token wrong' }, 'm f=1')
    expect([answer.status, JSON.parse(answer.text)]).toEqual([
      401,
      { code: 'unauthorized', message, error: message },
    ])
    expect(answer.headers.get('x-influxdb-error')).toBe(message)
  })

  it('has the headers that let a browser run nothing but the page (fetch and CSP standards)', async () => {
    const { ask: asked } = guarded()
    for (const request of ['GET /', 'GET /nowhere', 'DELETE /']) {
      const { headers } = await asked(here, request)
      const policy = (headers.get('content-security-policy') ?? '').split('; ').sort()
      expect(policy).toEqual([
        ...[
          "base-uri 'none'",
          "connect-src 'self'",
          "default-src 'none'",
          "font-src 'self'",
          "form-action 'self'",
        ],
        ...[
          "frame-ancestors 'none'",
          "img-src 'self' data: blob:",
          "manifest-src 'self'",
          "script-src 'self'",
        ],
        "style-src 'self'",
      ])
      expect(Object.fromEntries(headers)).toMatchObject({
        'x-content-type-options': 'nosniff',
        'referrer-policy': 'same-origin',
        'cross-origin-opener-policy': 'same-origin',
        'cross-origin-resource-policy': 'same-origin',
        'permissions-policy': 'camera=(self), microphone=(), geolocation=()',
        'cache-control': 'no-store',
      })
    }
  })
})

describe('serveRoutes', () => {
  const guard = { sharing: null, lan: false, port: () => 80, scheme: 'http', writeToken: null } as const
  const serve =
    (routes: readonly Route[]) =>
    async (path: string, init: RequestInit = {}) => {
      const headers = { host: 'localhost', 'content-type': 'application/json', ...init.headers }
      const env = { incoming: { socket: { remoteAddress: '127.0.0.1' } } }
      const response = await serveRoutes(routes, guard).request(
        `http://localhost${path}`,
        { ...init, headers },
        env,
      )
      return { status: response.status, headers: response.headers, body: await response.text() }
    }
  const throwing = (cause: Error) => {
    const table = new RouteTable()
    table.get('/api/x', () => {
      throw cause
    })
    return serve(table.routes)('/api/x')
  }

  it.each([
    [new RequestError(409, 'A hold is running.'), 409, 'A hold is running.'],
    [new ArchiveError('not-found', 'records', 'There is no record 7.'), 404, 'There is no record 7.'],
    [new ArchiveError('bad-record', 'records', 'The record 7 is damaged.'), 500, 'The record 7 is damaged.'],
  ])('a route that throws %s answers %i: %s', async (cause, status, error) => {
    const answer = await throwing(cause)
    expect([answer.status, JSON.parse(answer.body)]).toEqual([status, { error }])
  })

  it('tells a fault of the program to the user, and with its place to the terminal', async () => {
    const said: string[] = []
    const written = vi
      .spyOn(process.stderr, 'write')
      .mockImplementation((text) => said.push(String(text)) > 0)
    const answers = [await throwing(new Error('a wire broke'))]
    answers.push(await throwing(Object.assign(new Error('no stack'), { stack: undefined })))
    written.mockRestore()
    expect(answers.map(({ status, body }) => [status, JSON.parse(body)])).toEqual([
      [500, { error: 'The program failed at this request: a wire broke' }],
      [500, { error: 'The program failed at this request: no stack' }],
    ])
    expect(said[0]).toMatch(/^GET \/api\/x: Error: a wire broke\n +at /)
    expect(said[1]).toBe('GET /api/x: no stack\n')
  })

  it('answers a value as JSON and a response as it is, with its own cache rule', async () => {
    const table = new RouteTable()
    table.get('/api/value', () => ({ n: 1 }))
    table.get(
      '/api/text',
      () => new Response('text', { status: 202, headers: { 'cache-control': 'no-cache' } }),
    )
    table.get('/api/both', () => 'read')
    table.put('/api/both', {} as never, () => 'put')
    const asked = serve(table.routes)
    expect((await asked('/api/value')).body).toBe('{"n":1}')
    const text = await asked('/api/text')
    expect([text.status, text.body, text.headers.get('cache-control')]).toEqual([202, 'text', 'no-cache'])
    const posted = await asked('/api/both', { method: 'POST' })
    expect([posted.status, posted.headers.get('allow'), posted.body]).toEqual([
      ...[405, 'GET, PUT', '{"error":"/api/both takes GET, PUT only."}'],
    ])
    for (const method of ['DELETE', 'PATCH', 'OPTIONS'])
      expect((await asked('/api/value', { method })).status).toBe(405)
  })

  it.each([
    ['{', 'The request is not JSON.'],
    ['null', /^The request is not understood: body .+\.$/],
    ['{"readings":{"p":"x"}}', /^The request is not understood: readings\.p .+\.$/],
    ['{"readings":{}}', 'The request is not understood: readings has no reading, or more than 20.'],
  ])('a body %s is refused with 400 and the place that is wrong', async (body, why) => {
    const answer = await guarded().ask(here, 'POST /api/done', json, body)
    expect([answer.status, JSON.parse(answer.text).error]).toEqual([400, expect.stringMatching(why)])
    expect((await guarded().ask(here, 'POST /api/done', json, reading)).status).toBe(200)
  })
})

describe('startServer', () => {
  const { createServer } = http
  afterEach(() => {
    Object.assign(http, { createServer })
    syncBuiltinESMExports()
  })
  /** Starts a server and hands out node's own; `fails` is the error of its listen. */
  async function started(host: string, fails?: string) {
    const servers: { server: http.Server; options: http.ServerOptions }[] = []
    Object.assign(http, {
      createServer(options: http.ServerOptions, listener: http.RequestListener) {
        const server = createServer(options, listener)
        if (fails !== undefined)
          server.listen = () =>
            server.emit('error', Object.assign(new Error(`${fails} of listen`), { code: fails })) as never
        servers.push({ server, options })
        return server
      },
    })
    syncBuiltinESMExports()
    const table = new RouteTable()
    table.get('/api/x', () => 'x')
    const running = await startServer(
      () => table.routes,
      { sharing: null, lan: false, writeToken: null },
      { host, port: fails === undefined ? 0 : 4780 },
    )
    return { running, ...servers[0] }
  }

  it('limits heads to 16 kB and 5 s, requests to 60 s (docs/http-api.md) and all connections to 1000', async () => {
    const { running, server, options } = await started('127.0.0.1')
    expect([
      options.maxHeaderSize,
      server.headersTimeout,
      server.requestTimeout,
      server.maxConnections,
    ]).toEqual([...[16 * 1024, 5000, 60_000, 1000]])
    // Node looks for late requests at this interval.
    expect(options.connectionsCheckingInterval).toBe(1000)
    await running.stop()
  })

  it('answers 503 to all while it is renewed, then serves again, also after work that failed', async () => {
    const { running } = await started('127.0.0.1')
    const look = async () => {
      const answer = await ask(running.port, { path: '/api/x' })
      return [answer.status, answer.text]
    }
    const during: unknown[] = []
    await running.renew(async () => {
      during.push(await look())
    })
    expect(during).toEqual([[503, '{"error":"The bench changes to another aircraft: try again."}']])
    expect(await look()).toEqual([200, '"x"'])
    await expect(running.renew(() => Promise.reject(new Error('no file')))).rejects.toThrow('no file')
    expect((await look())[0]).toBe(200)
    await running.stop()
    await expect(look()).rejects.toThrow('ECONNREFUSED')
  })

  it.each([
    ['127.0.0.1', 'http://127.0.0.1'],
    ['0.0.0.0', 'http://127.0.0.1'],
    ['localhost', 'http://localhost'],
    ...(Object.values(networkInterfaces())
      .flat()
      .some((one) => one?.address === '::1')
      ? [
          ['::', 'http://127.0.0.1'],
          ['::1', 'http://[::1]'],
        ]
      : []),
  ])('at %s prints the address %s with its port', async (host, url) => {
    const { running } = await started(host)
    expect(running.url).toBe(`${url}:${running.port}`)
    expect(running.port).toBeGreaterThan(1023)
    await running.stop()
  })

  it.each([
    [
      'EADDRINUSE',
      '192.0.2.1:4780 is in use, perhaps by another stillhold: stop it or choose another port with --listen',
    ],
    ['EACCES', '192.0.2.1:4780 is not allowed: choose a port above 1023 with --listen'],
    ['EADDRNOTAVAIL', '192.0.2.1 is not an address of this machine: see --listen'],
    ['ENOTFOUND', 'cannot listen on 192.0.2.1:4780: ENOTFOUND of listen'],
  ])('that cannot listen (%s) says: %s', async (code, sentence) => {
    await expect(started('192.0.2.1', code)).rejects.toThrow(new Error(sentence))
  })
})

it('networkAddresses() and ownHosts() name this machine as others reach it, IPv4 first, and no address twice in brackets', () => {
  const outside = Object.values(networkInterfaces())
    .flatMap((each) => each ?? [])
    .filter(({ internal }) => !internal)
  const v4 = outside.filter(({ family }) => family === 'IPv4').map(({ address }) => address)
  const v6 = outside
    .filter(({ family, address }) => family === 'IPv6' && !address.startsWith('fe80'))
    .map(({ address }) => `[${address}]`)
  expect(networkAddresses()).toEqual([...v4, ...v6])
  expect(ownHosts()).toEqual(expect.arrayContaining(['localhost', '127.0.0.1', '::1', ...v4]))
  expect(ownHosts().filter((host) => /[[\]]/.test(host))).toEqual([])
})

it('packageFolder(a place outside a package) says what is missing and what to do', () => {
  expect(() => packageFolder('/nowhere/at/all.js')).toThrow(
    'package.json is missing above /nowhere/at/all.js: install the program again',
  )
})
