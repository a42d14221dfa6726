import { describe, expect, it } from 'vitest'
import { networkAddresses } from '#dashboard/server/http/own-hosts.ts'
import { RouteTable, serveRoutes } from '#dashboard/server/http/routes.ts'
import { Sharing } from '#dashboard/server/http/sharing.ts'
import { joinLink, sharingRoutes } from '#dashboard/server/http/sharing-routes.ts'
import { here, there } from './guarded.ts'

describe('sharing', () => {
  const routesOf = (sharing: Sharing | null, scheme = 'http') => {
    const table = new RouteTable()
    sharingRoutes(table, sharing, () => 4780, scheme)
    const guard = { sharing, lan: true, port: () => 4780, scheme: scheme as 'http', writeToken: null }
    const app = serveRoutes(table.routes, guard)
    return async (from: string, request: string, code?: string, cookie = '') => {
      const [method, path] = request.split(' ')
      const headers = { host: 'localhost:4780', 'content-type': 'application/x-www-form-urlencoded', cookie }
      const init = { method, headers, ...(code !== undefined && { body: new URLSearchParams({ code }) }) }
      return app.request(`${scheme}://localhost:4780${path}`, init, {
        incoming: { socket: { remoteAddress: from } },
      })
    }
  }

  it.each(['http', 'https'])(
    'POST /join over %s gives a cookie for 30 days that only this site reads',
    async (scheme) => {
      const sharing = new Sharing()
      const joined = await routesOf(sharing, scheme)(there, 'POST /join', sharing.code('viewer'))
      expect([joined.status, joined.headers.get('location')]).toEqual([303, '/'])
      const [token, ...rules] = (joined.headers.get('set-cookie') ?? '').split('; ')
      expect(token).toMatch(/^stillhold_device=[\w-]{43}$/)
      expect(rules.sort()).toEqual(
        [
          'HttpOnly',
          'Max-Age=2592000',
          'Path=/',
          'SameSite=Strict',
          ...(scheme === 'https' ? ['Secure'] : []),
        ].sort(),
      )
    },
  )

  it('POST /join says why a code is refused: wrong, or too many tries', async () => {
    const asked = routesOf(new Sharing())
    for (const code of ['AAAA-AAAA', undefined, '', 'AAAA', 'x']) {
      const wrong = await asked(there, 'POST /join', code)
      expect(wrong.status).toBe(403)
      expect(await wrong.text()).toContain(
        '<p class="problem" role="alert">That code is not valid: each works once. Use the newest one on the terminal.</p>',
      )
    }
    const late = await asked(there, 'POST /join', 'AAAA-AAAA')
    expect(late.status).toBe(429)
    expect(await late.text()).toContain('Too many tries. Wait a minute, then try again.')
  })

  it('GET /join fills in the code of the link, at most 20 characters of it, and shows no problem', async () => {
    const text = await (await routesOf(new Sharing())(there, `GET /join?code=${'A'.repeat(21)}`)).text()
    expect(text).toContain(`value="${'A'.repeat(20)}"`)
    expect(text).toContain('<label for="code">Code from the bench’s terminal</label>')
    expect(text).not.toContain('problem')
    expect(await (await routesOf(new Sharing())(there, 'GET /join')).text()).toContain('value=""')
  })

  it('GET /api/sharing tells each how others get in', async () => {
    const told = async (sharing: Sharing | null, from: string, cookie = '') =>
      (await routesOf(sharing)(from, 'GET /api/sharing', undefined, cookie)).json()
    expect(await told(null, here)).toEqual({
      loopbackOnly: true,
      advice: 'Only this machine can open the page: start the program with --lan to let others in.',
      links: [],
    })
    const sharing = new Sharing()
    const join = sharing.join(sharing.code('viewer'), there)
    expect(await told(sharing, there, `stillhold_device=${join.ok && join.token}`)).toEqual({
      loopbackOnly: false,
      advice: 'Ask at the bench for a code: each lets one device in.',
      links: [],
    })
    const [address] = networkAddresses()
    const own = (await told(sharing, here)) as { advice: string; links: { role: string; url: string }[] }
    expect(own.advice).toMatch(/\.$/)
    expect(own.links).toEqual(
      (address === undefined ? [] : (['viewer', 'operator'] as const)).map((role) => ({
        ...{ role, url: `http://${address}:4780/join?code=${sharing.code(role)}` },
      })),
    )
    expect(joinLink(sharing, 'viewer', { port: 4780, scheme: 'http' })).toBe(own.links[0]?.url ?? null)
  })

  it('codes have eight letters and digits of which none looks like another', () => {
    const sharing = new Sharing(() => 0)
    const codes = Array.from({ length: 25 }, (_, n) => {
      const code = sharing.code('viewer')
      expect(sharing.join(code, `10.0.0.${n}`)).toMatchObject({ ok: true })
      return code
    })
    for (const code of codes) expect(code).toMatch(/^[2-9A-HJ-NP-Z]{4}-[2-9A-HJ-NP-Z]{4}$/)
    expect(new Set(codes).size).toBe(25)
  })

  it('an address has five tries a minute: the sixth is taken 12 s after the first, not earlier', () => {
    let nowMs = 0
    const sharing = new Sharing(() => nowMs)
    const tried = (): unknown => sharing.join('AAAA-AAAA', there)
    for (let n = 0; n < 5; n++) tried()
    nowMs = 11_990
    expect(tried()).toEqual({ ok: false, reason: 'too-many-tries' })
    nowMs = 12_010
    expect(tried()).toEqual({ ok: false, reason: 'wrong-code' })
  })

  it('knows 200 devices: the next one takes the place of the oldest', () => {
    let nowMs = 0
    const sharing = new Sharing(() => nowMs)
    const tokens = Array.from({ length: 201 }, (_, n) => {
      nowMs += 60_000
      const join = sharing.join(sharing.code(n === 0 ? 'operator' : 'viewer'), there)
      return join.ok ? join.token : ''
    })
    expect(tokens.map((token) => sharing.roleOfToken(token))).toEqual([null, ...Array(200).fill('viewer')])
  })
})
