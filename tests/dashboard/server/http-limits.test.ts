import { EventEmitter } from 'node:events'
import type { Server } from 'node:http'
import type { Socket } from 'node:net'
import { safeParse } from 'valibot'
import { describe, expect, it } from 'vitest'
import {
  id,
  markBody,
  personOrNone,
  portFixBody,
  startHoldBody,
  typedBody,
  words,
} from '#dashboard/server/http/bodies.ts'
import { Connections } from '#dashboard/server/http/connections.ts'
import { isOwnHost } from '#dashboard/server/http/own-hosts.ts'
import { escapeHtml } from '#dashboard/server/http/plain-page.ts'
import { photoBody } from '#dashboard/server/http/read-request.ts'
import { RateLimit } from '#dashboard/server/http/sharing.ts'
import { hasToken, writeTokenFrom } from '#dashboard/server/http/write-token.ts'
import { guarded, here, json, reading, there } from './guarded.ts'

describe('the guard', () => {
  it.each([
    [here, '', 'GET /api/seen', 200],
    ['::ffff:127.0.0.1', '', 'POST /api/done', 200],
    [there, '', 'GET /api/seen', 401],
    [there, '', 'POST /api/done', 401],
    [there, '', 'POST /', 401],
    [there, '', 'GET /', 303],
    [there, '', 'HEAD /', 303],
    [there, '', 'POST /join', 200],
    [there, 'viewer', 'GET /api/seen', 200],
    [there, 'viewer', 'GET /nowhere', 404],
    [there, 'viewer', 'POST /api/done', 403],
    [there, 'viewer', 'PUT /api/text', 403],
    [there, 'viewer', 'POST /form', 403],
    [there, 'viewer', 'DELETE /api/seen', 403],
    [there, 'operator', 'POST /api/done', 200],
    [there, 'operator', 'POST /form', 200],
    [there, 'operator', 'DELETE /api/seen', 405],
    [there, 'operator', 'POST /write', 401],
    [here, '', 'POST /write', 401],
  ] as const)('from %s as %j answers %s with %i', async (from, role, request, status) => {
    const { ask, device, joined } = guarded()
    const cookie: Record<string, string> = role === '' ? {} : { cookie: device(role) }
    const body = /^(POST|PUT) \/api\/(done|text)/.test(request) ? reading : undefined
    const answer = await ask(from, request, { ...json, ...cookie }, body)
    expect(answer.status).toBe(status)
    expect(joined).toEqual(role === '' || request.endsWith('/write') ? [] : [there])
    if (request === 'DELETE /api/seen' && status === 405) expect(answer.headers.get('allow')).toBe('GET')
    expect(answer.headers.get('x-content-type-options')).toBe('nosniff')
    expect(answer.headers.get('content-security-policy')).toContain("default-src 'none'")
    expect(answer.headers.get('cache-control')).toBe('no-store')
  })

  it('tells a mark made at this machine from one of a joined device', async () => {
    const { ask, device } = guarded()
    const made = async (from: string, cookie = '') =>
      JSON.parse((await ask(from, 'POST /api/done', { ...json, cookie }, reading)).text)
    expect([await made(here), await made(there, device('operator'))]).toEqual([
      { maker: 'operator' },
      { maker: 'device' },
    ])
  })

  it.each([
    [{ origin: 'http://localhost:4780' }, 'POST /api/done', 200],
    [{ origin: 'https://localhost:4780' }, 'POST /api/done', 403],
    [{ origin: 'http://localhost:81' }, 'POST /api/done', 403],
    [{ origin: 'null' }, 'POST /api/done', 403],
    [{ 'sec-fetch-site': 'same-origin' }, 'POST /api/done', 200],
    [{ 'sec-fetch-site': 'none' }, 'GET /api/seen', 200],
    [{ 'sec-fetch-site': 'cross-site' }, 'GET /', 403],
    [{ 'sec-fetch-site': 'cross-site', 'sec-fetch-mode': 'navigate' }, 'GET /', 200],
    [{ 'sec-fetch-site': 'same-site', 'sec-fetch-mode': 'navigate' }, 'GET /api/seen', 403],
    [{ 'sec-fetch-site': 'cross-site', 'sec-fetch-mode': 'navigate' }, 'POST /form', 403],
    [{ host: 'bench.example:4780' }, 'GET /', 421],
    [{ 'content-type': 'text/plain' }, 'POST /api/done', 415],
    [{ 'content-type': 'application/jsonp' }, 'POST /api/done', 415],
    [{ 'content-type': 'application/json; charset=utf-8' }, 'POST /api/done', 200],
    [{ 'transfer-encoding': 'chunked' }, 'POST /api/done', 411],
    [{ 'transfer-encoding': 'chunked', authorization: 'Token a-token' }, 'POST /write', 204],
    [{ 'content-length': '100', authorization: 'Token a-token' }, 'POST /write', 204],
    [{ 'content-length': '101', authorization: 'Token a-token' }, 'POST /write', 413],
    [{ 'content-length': '1' }, 'GET /', 413],
    [{ 'content-length': '4096' }, 'POST /form', 200],
    [{ 'content-length': '4097' }, 'POST /form', 413],
    [{ 'content-length': '4097' }, 'POST /join', 413],
    [{ 'content-length': '262144' }, 'POST /api/done', 200],
    [{ 'content-length': '262145' }, 'POST /api/done', 413],
    [{ 'content-length': '1048576' }, 'PUT /api/text', 200],
    [{ 'content-length': '1048577' }, 'PUT /api/text', 413],
  ] as const)('with %j answers %s with %i', async (headers, request, status) => {
    const body = request.includes('/api/') && !request.startsWith('GET') ? reading : undefined
    const answer = await guarded().ask(here, request, { ...json, ...headers }, body)
    expect(answer.status).toBe(status)
    if (status >= 400) expect(answer.text).toMatch(/"error":"[^"]{20,}\./)
  })

  it.each([
    ['POST /form', 4097, 'The request is larger than 4 kB.'],
    ['PUT /api/text', 2e6, 'The request is larger than 1 MB.'],
    ['GET /', 5, 'This request takes no body.'],
  ])('says of %s with %i bytes what is too much', async (request, bytes, sentence) => {
    const answer = await guarded().ask(here, request, { ...json, 'content-length': String(bytes) })
    expect(JSON.parse(answer.text)).toEqual({ error: sentence })
  })
})

it.each([
  [{ authorization: 'Token t' }, '', true],
  [{ authorization: 'bearer  t' }, '', true],
  [{ authorization: `Basic ${btoa('any:t')}` }, '', true],
  [{ authorization: `Basic ${btoa('t')}` }, '', true],
  [{}, '?p=t', true],
  [{}, '', false],
  [{}, '?p=', false],
  [{ authorization: 't' }, '', false],
  [{ authorization: 'Digest t' }, '', false],
  [{ authorization: 'Tokens t' }, '', false],
  [{ authorization: `Basic ${btoa('t:any')}` }, '', false],
  [{ authorization: 'Token tt' }, '?p=T', false],
])('hasToken(%j, %j) is %s', (headers, query, has) => {
  expect(
    hasToken(
      new Request(`http://localhost/write${query}`, { headers: headers as Record<string, string> }),
      't',
    ),
  ).toBe(has)
})

it('writeTokenFrom(environment) takes the user’s own token, else makes one of 128 random bits', () => {
  expect(writeTokenFrom({ STILLHOLD_WRITE_TOKEN: 'own' })).toBe('own')
  const made = [writeTokenFrom({}), writeTokenFrom({ STILLHOLD_WRITE_TOKEN: '' })]
  for (const one of made) expect(one).toMatch(/^[0-9a-f]{32}$/)
  expect(made[0]).not.toBe(made[1])
})

it.each([
  ['localhost', 443, true],
  ['localhost', 80, false],
  ['localhost:4780', 4780, true],
])('isOwnHost(%s) over HTTPS at port %i is %s', (host, port, own) => {
  expect(isOwnHost(host, port, { lan: false, scheme: 'https' })).toBe(own)
})

it('escapeHtml(a name) leaves nothing that a browser takes for markup', () => {
  expect(escapeHtml(`<b a="1" c='2'>&`)).toBe('&#60;b a=&#34;1&#34; c=&#39;2&#39;&#62;&#38;')
})

describe('limits of what may be sent', () => {
  const many = <T>(count: number, make: (n: number) => T): T[] =>
    Array.from({ length: count }, (_, n) => make(n))
  const fields = (count: number) => Object.fromEntries(many(count, (n) => [`f${n}`, 1]))
  const mark = (more: object) => ({ kind: 'note', fields: {}, ...more })
  const hold = (more: object) => ({ hold: 'h', ...more })
  const base64 = (...bytes: number[]) => ({ fitting: null, base64: Buffer.from(bytes).toString('base64') })
  it.each([
    ['id', id, 'x'.repeat(100), 'x'.repeat(101)],
    ['id', id, 'a.b@c-d_1', 'a b'],
    ['words', words, 'x'.repeat(500), 'x'.repeat(501)],
    ['words', words, 'für später', 'a\nb'],
    ['a name', personOrNone, 'x'.repeat(80), 'x'.repeat(81)],
    [
      'a checklist',
      startHoldBody,
      hold({ stateSheet: many(50, String) }),
      hold({ stateSheet: many(51, String) }),
    ],
    ['an order', startHoldBody, hold({ dry: false }), hold({ wet: true })],
    ['the key of a mark', markBody, mark({ key: 'x'.repeat(8) }), mark({ key: 'x'.repeat(7) })],
    ['the key of a mark', markBody, mark({ key: 'x'.repeat(64) }), mark({ key: 'x'.repeat(65) })],
    ['the age of a mark', markBody, mark({ agoS: 604_800 }), mark({ agoS: 604_801 })],
    ['the age of a mark', markBody, mark({ agoS: 0 }), mark({ agoS: -1 })],
    ['the kind of a mark', markBody, mark({ kind: 'correction' }), mark({ kind: 'stage' })],
    ['the kind of a mark', markBody, mark({ kind: 'work' }), mark({ kind: 'fault' })],
    ['the fields of a mark', markBody, mark({ fields: fields(20) }), mark({ fields: fields(21) })],
    [
      'a field of a mark',
      markBody,
      mark({ fields: { [`a${'b'.repeat(39)}`]: 1 } }),
      mark({ fields: { [`a${'b'.repeat(40)}`]: 1 } }),
    ],
    ['a field of a mark', markBody, mark({ fields: { a: false } }), mark({ fields: { a: [] } })],
    ['typed readings', typedBody, { readings: fields(20) }, { readings: fields(21) }],
    ['typed readings', typedBody, { readings: fields(1) }, { readings: {} }],
    ['the name of a port', portFixBody, { name: 'x'.repeat(500) }, { name: 'x'.repeat(501) }],
    ['a baud rate', portFixBody, { name: 'p', baudRate: 300 }, { name: 'p', baudRate: 299 }],
    ['a baud rate', portFixBody, { name: 'p', baudRate: 4_000_000 }, { name: 'p', baudRate: 4_000_001 }],
    [
      'columns',
      portFixBody,
      { name: 'p', columns: many(100, (n) => `c${n}`) },
      { name: 'p', columns: many(101, (n) => `c${n}`) },
    ],
    ['a picture (JPEG)', photoBody, base64(0xff, 0xd8, 0xff, 0), base64(0xff, 0xd8, 0xfe, 0)],
    ['a picture (PNG)', photoBody, base64(0x89, 0x50, 0x4e, 0x47), base64(0x89, 0x50, 0x4e, 0x46)],
    [
      'a picture (WebP)',
      photoBody,
      base64(...Buffer.from('RIFF1234WEBP')),
      base64(...Buffer.from('RIFF123WEBP.')),
    ],
    ['a picture (HEIC)', photoBody, base64(...Buffer.from('1234ftyp')), base64(...Buffer.from('ftyp1234'))],
  ])(
    '%s: takes what is within its bounds and refuses what is not, with a reason',
    (_, shape, within, beyond) => {
      expect(safeParse(shape, within).success).toBe(true)
      const refused = safeParse(shape, beyond)
      expect([refused.success, refused.issues?.[0].message.length]).toEqual([false, expect.any(Number)])
    },
  )

  it('an empty name is none', () => {
    expect(
      ['', '  ', null, undefined, ' A. B. '].map((name) => safeParse(personOrNone, name).output),
    ).toEqual([...[null, null, null, null], 'A. B.'])
  })
})

describe('Connections', () => {
  /** Opens connections and tells which of them are closed then. */
  function opened(addresses: readonly string[], joined: readonly string[] = []) {
    const server = new EventEmitter()
    const connections = new Connections()
    connections.watch(server as Server)
    for (const address of joined) connections.joined(address)
    const closed: number[] = []
    const sockets = addresses.map((remoteAddress, remotePort) =>
      Object.assign(new EventEmitter(), {
        ...{ remoteAddress, remotePort, writableLength: 0 },
        destroy() {
          closed.push(remotePort)
          ;(this as unknown as EventEmitter).emit('close')
        },
      }),
    )
    const request = (n: number, complete: boolean) => {
      const response = Object.assign(new EventEmitter(), { writableFinished: true, statusCode: 200 })
      server.emit('request', { socket: sockets[n] as unknown as Socket, complete }, response)
      return response
    }
    const open = (n: number) => server.emit('connection', sockets[n] as unknown as Socket)
    return { open, request, closed, count: addresses.length }
  }
  const times = (count: number, address: (n: number) => string) =>
    Array.from({ length: count }, (_, n) => address(n))

  it.each([
    ['48 of one address', times(48, () => there), [], []],
    ['50 of one address', times(50, () => there), [], [0, 1]],
    ['50 of this machine', times(50, () => here), [], [0, 1]],
    ['96 strangers', times(96, (n) => `10.0.0.${n}`), [], []],
    ['98 strangers', times(98, (n) => `10.0.0.${n}`), [], [0, 1]],
    ['98, two of them joined', times(98, (n) => `10.0.0.${n}`), ['10.0.0.0', '10.0.0.97'], []],
    ['96 strangers and this machine', [...times(96, (n) => `10.0.0.${n}`), here], [], []],
  ])('%s: the oldest beyond the limit are closed', (_, addresses, joined, wanted) => {
    const { open, count, closed } = opened(addresses, joined)
    for (let n = 0; n < count; n++) open(n)
    expect(closed).toEqual(wanted)
  })

  it('closes an unused connection before one that was answered, and one that waits before one that is served', () => {
    const { open, request, closed } = opened(times(52, () => there))
    for (let n = 0; n < 48; n++) open(n)
    request(0, true).emit('close')
    request(1, true)
    request(2, false)
    open(48)
    expect(closed).toEqual([2])
    for (let n = 3; n < 49; n++) request(n, true)
    open(49)
    expect(closed).toEqual([2, 0])
    // All others are being answered: the new one is refused.
    request(49, true)
    open(50)
    expect(closed).toEqual([2, 0, 50])
  })
})

it('RateLimit.take() forgets the keys that are full again, not the ones that have used their tries', () => {
  let nowMs = 0
  const limit = new RateLimit(1, 1000, () => nowMs)
  for (let n = 0; n < 900; n++) limit.take(`old ${n}`)
  nowMs = 1000
  for (let n = 0; n < 101; n++) expect(limit.take(`new ${n}`)).toBe(true)
  expect(limit.take('new 0')).toBe(false)
  nowMs = 1100
  expect(limit.take('new 0')).toBe(false)
  nowMs = 2001
  expect(limit.take('new 0')).toBe(true)
})
