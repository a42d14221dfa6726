import { typedBody } from '#dashboard/server/http/bodies.ts'
import { deviceCookie } from '#dashboard/server/http/guard.ts'
import { RouteTable, serveRoutes } from '#dashboard/server/http/routes.ts'
import { Sharing } from '#dashboard/server/http/sharing.ts'

/** Routes of each kind behind the guard, asked as from an address of the network. */
export function guarded(scheme: 'http' | 'https' = 'http') {
  const sharing = new Sharing()
  const joined: string[] = []
  const table = new RouteTable()
  table.get('/api/seen', (context) => ({ role: context.get('role'), maker: context.get('maker') }))
  table.get('/', () => ({ page: true }))
  table.post('/api/done', typedBody, (_, context) => ({ maker: context.get('maker') }))
  table.put('/api/text', typedBody, () => ({}))
  table.form('/form', () => new Response('done'))
  table.forAnyone('POST', '/join', () => new Response('joined'))
  const answer = () => new Response(null, { status: 204 })
  const logger = { method: 'POST', path: '/write', for: 'logger', bodyBytes: 100, answer } as const
  const app = serveRoutes([...table.routes, logger], {
    ...{ sharing, lan: true, port: () => 4780, scheme, writeToken: 'a-token' },
    joined: (address) => joined.push(address),
  })
  const device = (role: 'viewer' | 'operator') => {
    const join = sharing.join(sharing.code(role), `join of ${role}`)
    return `${deviceCookie}=${join.ok ? join.token : ''}`
  }
  const ask = async (from: string, request: string, headers: Record<string, string> = {}, body?: string) => {
    const [method, path] = request.split(' ')
    const init = { method, headers: { host: 'localhost:4780', ...headers }, ...(body && { body }) }
    const response = await app.request(`${scheme}://localhost:4780${path}`, init, {
      incoming: { socket: { remoteAddress: from } },
    })
    return { status: response.status, text: await response.text(), headers: response.headers }
  }
  return { ask, device, joined }
}
export const json = { 'content-type': 'application/json' }
export const reading = '{"readings":{"p":1}}'
export const [here, there] = ['127.0.0.1', '192.168.4.7']
