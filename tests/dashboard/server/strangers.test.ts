import { afterAll, beforeAll, describe, expect, it } from 'vitest'
import { networkAddresses } from '#dashboard/server/http/own-hosts.ts'
import { Sharing } from '#dashboard/server/http/sharing.ts'
import type { RunningBench } from '#dashboard/server/start-bench.ts'
import { ask, send } from './ask.ts'
import { benchFolder, openBench } from './open-bench.ts'

const at = benchFolder()
const writeToken = 'test-token'
let bench: RunningBench
let port = 0

beforeAll(async () => {
  bench = await openBench(at, { writeToken })
  port = bench.server.port
})
afterAll(async () => {
  await bench.stop()
  at.remove()
})

const point = (timeNs: number) => `logger p3=10,t3=20,baro=1013 ${timeNs}\n`

describe('the server on the loopback', () => {
  it('answers its own names and refuses a foreign Host with 421, which stops DNS rebinding', async () => {
    expect((await ask(port, { path: '/api/state' })).status).toBe(200)
    for (const host of ['bench.example', `bench.example:${port}`, `127.0.0.1:${port + 1}`, '127.0.0.1']) {
      for (const path of ['/', '/api/state', '/api/stream', '/api/v2/write']) {
        expect((await ask(port, { path, headers: { host } })).status).toBe(421)
      }
    }
  })

  it('refuses a foreign Origin on every change and every read, before looking at it (cross-site requests)', async () => {
    for (const origin of [
      'http://bench.example',
      'null',
      `http://127.0.0.1:${port + 1}`,
      `https://127.0.0.1:${port}`,
    ]) {
      expect((await send(port, '/api/mark', {}, { headers: { origin } })).status).toBe(403)
      expect((await ask(port, { path: '/api/stream', headers: { origin } })).status).toBe(403)
    }
    const own = { origin: `http://127.0.0.1:${port}` }
    expect((await send(port, '/api/mark', {}, { headers: own })).status).toBe(400)
  })

  it('refuses what a browser marks as cross-site, save a link that opens the page', async () => {
    const cross = { 'sec-fetch-site': 'cross-site' }
    expect((await ask(port, { path: '/api/state', headers: cross })).status).toBe(403)
    expect((await ask(port, { path: '/', headers: { ...cross, 'sec-fetch-mode': 'no-cors' } })).status).toBe(
      403,
    )
    const link = { ...cross, 'sec-fetch-mode': 'navigate' }
    expect((await ask(port, { path: '/', headers: link })).status).not.toBe(403)
    expect((await ask(port, { path: '/api/dossier.pdf', headers: link })).status).toBe(403)
  })

  it('refuses a change that is not JSON, so that a plain form of another site cannot make one', async () => {
    for (const type of [
      'text/plain',
      'application/x-www-form-urlencoded',
      'multipart/form-data; boundary=x',
    ]) {
      const asked = await send(port, '/api/mark', {}, { headers: { 'content-type': type } })
      expect(asked.status).toBe(415)
    }
    expect((await ask(port, { method: 'POST', path: '/api/hold/stage' })).status).toBe(415)
  })

  it('sends a policy that forbids inline scripts, outside requests and framing with every answer', async () => {
    for (const path of ['/', '/api/state', '/nothing.txt']) {
      const { headers } = await ask(port, { path })
      const policy = String(headers['content-security-policy'])
      expect(policy).toContain("default-src 'none'")
      expect(policy).toContain("script-src 'self'")
      expect(policy).toContain("frame-ancestors 'none'")
      expect(policy).not.toContain('unsafe')
      expect(headers['x-content-type-options']).toBe('nosniff')
      expect(headers['access-control-allow-origin']).toBeUndefined()
    }
  })

  it('gives no file by a path that climbs, in any spelling', async () => {
    for (const path of [
      '/../package.json',
      '/..%2fpackage.json',
      '/%2e%2e/%2e%2e/etc/passwd',
      '/assets/../../stillhold.js',
      '/..\\package.json',
      '/api/records/..%2f..%2fkey',
      '/api/records/%2e%2e/recording.lp',
      '/api/records/0001-x%00/record.json',
    ]) {
      const { status, text } = await ask(port, { path })
      expect([200, 400, 404]).toContain(status)
      expect(text).not.toContain('"name": "stillhold"')
      expect(text).not.toContain('root:')
      if (status === 200) expect(text).toContain('<!doctype html>')
    }
  })

  it('refuses a body over 1 MB with 413 and headers over 16 kB with 431', async () => {
    const large = await send(port, '/api/mark', { kind: 'note', fields: { text: 'x'.repeat(1_100_000) } })
    expect(large.status).toBe(413)
    expect((await ask(port, { headers: { 'x-large': 'x'.repeat(17_000) } })).status).toBe(431)
  })

  it('answers broken requests in one sentence and goes on', async () => {
    for (const body of ['', '{', '[]', '{"kind":"bomb","fields":{}}', '{"kind":"note","fields":{"a":{}}}']) {
      const asked = await ask(port, {
        method: 'POST',
        path: '/api/mark',
        body,
        headers: { 'content-type': 'application/json' },
      })
      expect(asked.status).toBe(400)
      expect(asked.json().error).toMatch(/^The request is .+\.$/)
    }
  })

  it('answers a change without a body with 400, and one whose length is not told with 411: never with a fault of its own', async () => {
    const headers = { 'content-type': 'application/json' }
    expect((await ask(port, { method: 'POST', path: '/api/mark', headers })).status).toBe(400)
    const chunked = { ...headers, 'transfer-encoding': 'chunked' }
    const asked = await ask(port, { method: 'POST', path: '/api/mark', body: '{}', headers: chunked })
    expect([asked.status, asked.json().error]).toEqual([411, expect.stringContaining('content-length')])
  })

  it('takes points only with the token, in each way the clients of the write protocol send it', async () => {
    const path = '/api/v2/write?precision=ns'
    const write = (headers: Record<string, string>, at = path) =>
      ask(port, { method: 'POST', path: at, body: point(1_767_225_600_000_000_000), headers })
    expect((await write({})).status).toBe(401)
    expect((await write({ authorization: 'Token wrong' })).status).toBe(401)
    expect((await write({}, '/write?p=')).status).toBe(401)
    expect((await write({ authorization: `Token ${writeToken}` })).status).toBe(204)
    expect((await write({ authorization: `Bearer ${writeToken}` })).status).toBe(204)
    const basic = Buffer.from(`any:${writeToken}`).toString('base64')
    expect((await write({ authorization: `Basic ${basic}` }, '/write?db=bench')).status).toBe(204)
    expect((await write({}, `/write?db=bench&u=any&p=${writeToken}`)).status).toBe(204)
  })
})

const [address] = networkAddresses().filter((each) => !each.startsWith('['))

describe.skipIf(!address)('the server shared with the network (skipped without a network address)', () => {
  const lan = benchFolder()
  const sharing = new Sharing()
  let shared: RunningBench

  beforeAll(async () => {
    shared = await openBench(lan, { sharing, listen: { host: '0.0.0.0', port: 0 }, writeToken })
  })
  afterAll(async () => {
    await shared.stop()
    lan.remove()
  })

  const join = async (code: string) => {
    const asked = await ask(shared.server.port, {
      address,
      method: 'POST',
      path: '/join',
      body: new URLSearchParams({ code }).toString(),
      headers: { 'content-type': 'application/x-www-form-urlencoded' },
    })
    return { asked, cookie: String(asked.headers['set-cookie']?.[0] ?? '') }
  }

  it('leads a device without a cookie to the join page and gives it nothing else', async () => {
    const page = await ask(shared.server.port, { address })
    expect([page.status, page.headers.location]).toEqual([303, '/join'])
    for (const path of ['/api/state', '/api/stream', '/api/records', '/api/sharing', '/api/system']) {
      expect((await ask(shared.server.port, { address, path })).status).toBe(401)
    }
    expect((await send(shared.server.port, '/api/mark', {}, { address })).status).toBe(401)
    expect(
      (await ask(shared.server.port, { address, path: '/join?code=%22%3E%3Cscript%3E' })).text,
    ).not.toContain('<script>')
  })

  it('gives a device that brings a code a cookie that scripts cannot read and other sites cannot use', async () => {
    const { asked, cookie } = await join(sharing.code('viewer'))
    expect([asked.status, asked.headers.location]).toEqual([303, '/'])
    expect(cookie).toMatch(/HttpOnly/)
    expect(cookie).toMatch(/SameSite=Strict/)
    expect((await join('WRNG-CODE')).asked.status).toBe(403)
  })

  it('lets a viewer watch and change nothing, and an operator do both', async () => {
    const viewer = { cookie: (await join(sharing.code('viewer'))).cookie.split(';')[0] }
    const operator = { cookie: (await join(sharing.code('operator'))).cookie.split(';')[0] }
    const state = await ask(shared.server.port, { address, path: '/api/state', headers: viewer })
    expect(state.json().role).toBe('viewer')
    for (const path of [
      '/api/mark',
      '/api/hold/start',
      '/api/hold/stage',
      '/api/plan',
      '/api/ports/confirm',
    ]) {
      expect((await send(shared.server.port, path, {}, { address, headers: viewer })).status).toBe(403)
    }
    const put = { address, method: 'PUT', headers: viewer }
    expect((await send(shared.server.port, '/api/system', {}, put)).status).toBe(403)
    expect((await send(shared.server.port, '/api/mark', {}, { address, headers: operator })).status).toBe(400)
  })

  it('tells a viewer no code that would make it an operator', async () => {
    const viewer = { cookie: (await join(sharing.code('viewer'))).cookie.split(';')[0] }
    const told = await ask(shared.server.port, { address, path: '/api/sharing', headers: viewer })
    expect(told.json().links).toEqual([])
    const own = await ask(shared.server.port, { path: '/api/sharing' })
    expect(own.text).toContain(sharing.code('operator'))
  })

  it('knows no cookie that it did not give', async () => {
    for (const cookie of ['stillhold_device=', 'stillhold_device=operator', 'stillhold_device=%00']) {
      expect(
        (await ask(shared.server.port, { address, path: '/api/state', headers: { cookie } })).status,
      ).toBe(401)
    }
  })

  it('answers the sixth code within a minute with 429, right or wrong', async () => {
    let status = 0
    for (let tries = 0; tries < 6; tries++) status = (await join('WRNG-CODE')).asked.status
    expect(status).toBe(429)
    expect((await join(sharing.code('operator'))).asked.status).toBe(429)
  })
})
