import type { HttpBindings } from '@hono/node-server'
import type { Context } from 'hono'
import { getCookie } from 'hono/cookie'
import { isLoopback, isOwnHost } from './own-hosts.ts'
import type { Role, Sharing } from './sharing.ts'
import { hasToken } from './write-token.ts'

export const deviceCookie = 'stillhold_device'

export interface GuardOptions {
  /** Null while only this machine may open the page. */
  readonly sharing: Sharing | null
  /** Also answers requests by this machine's names in the network. */
  readonly lan: boolean
  /** The port in use; known only after the server starts to listen. */
  readonly port: () => number
  readonly scheme: 'http' | 'https'
  /** Token of loggers that write over HTTP; null where they may not. */
  readonly writeToken: string | null
  /** Called with the address of each device that sent its cookie. */
  readonly joined?: (address: string) => void
}

/**
 * Refuses requests of strangers and of other sites' pages before any route runs: a foreign Host (DNS
 * rebinding), another site's scripts (cross-site requests, streams and forms), a logger without the token, a device
 * without a cookie, a change by a viewer, and a body over the route's limit. Null when the request is allowed.
 */
export function refusal(
  context: Context<Env>,
  route: Pick<Route, 'for' | 'bodyBytes' | 'bodyType'>,
  options: GuardOptions,
): Response | null {
  const host = context.req.header('host')
  if (!isOwnHost(host, options.port(), options)) {
    return refuse(
      context,
      421,
      'This address does not belong to the bench: open the page by the address the program printed.',
    )
  }
  if (isCrossSite(context, options.scheme))
    return refuse(context, 403, 'Requests from other sites are refused: open the page itself.')
  if (route.bodyType === 'json' && !isJson(context))
    return refuse(context, 415, 'Send JSON, with content-type: application/json.')
  return whoRefusal(context, route.for, options) ?? bodyRefusal(context, route)
}

function whoRefusal(context: Context<Env>, who: Route['for'], options: GuardOptions): Response | null {
  if (who === 'anyone') return null
  if (who === 'logger') {
    if (options.writeToken !== null && hasToken(context.req.raw, options.writeToken)) return null
    const message = 'the token is missing or wrong; see the line that the bench prints at its start'
    // Old and new clients read the text from different places.
    return context.json({ code: 'unauthorized', message, error: message }, 401, {
      'x-influxdb-error': message,
    })
  }
  const role = roleOf(context, options)
  const isRead = context.req.method === 'GET' || context.req.method === 'HEAD'
  if (!role) {
    if (options.sharing && isRead && !context.req.path.startsWith('/api/'))
      return context.redirect('/join', 303)
    return refuse(
      context,
      401,
      'This device has not joined the bench: open /join and enter the code from the terminal.',
    )
  }
  if ((who === 'operator' || !isRead) && role !== 'operator')
    return refuse(context, 403, 'This device may only watch: join with the operator’s code to do that.')
  context.set('role', role)
  const isOwnMachine = isLoopback(context.env.incoming.socket.remoteAddress ?? '')
  context.set('maker', isOwnMachine ? 'operator' : 'device')
  return null
}

/** Requests from this machine operate the bench; every other device has the role of its cookie. */
function roleOf(context: Context<Env>, { sharing, joined }: GuardOptions): Role | null {
  const address = context.env.incoming.socket.remoteAddress ?? ''
  if (isLoopback(address)) return 'operator'
  const token = getCookie(context, deviceCookie)
  const role = sharing && token ? sharing.roleOfToken(token) : null
  if (role) joined?.(address)
  return role
}

/**
 * Refuses a body by the length in its head, before it is read. A chunked body without a length is accepted from
 * loggers only, whose route counts while it reads: pages and scripts always send the length.
 */
function bodyRefusal(
  context: Context<Env>,
  { for: who, bodyBytes: most = 0 }: Pick<Route, 'for' | 'bodyBytes'>,
): Response | null {
  const isChunked = context.req.header('transfer-encoding') !== undefined
  if (isChunked && who !== 'logger')
    return refuse(context, 411, 'Send the body in one piece, with its content-length.')
  if (Number(context.req.header('content-length') ?? 0) <= most) return null
  if (most === 0) return refuse(context, 413, 'This request takes no body.')
  const megabyte = 1024 ** 2
  const limit = most < megabyte ? `${most / 1024} kB` : `${most / megabyte} MB`
  return refuse(context, 413, `The request is larger than ${limit}.`)
}

/**
 * True when a browser marks the request as cross-site. A link from elsewhere may open the page, nothing more.
 * Programs other than browsers send neither header.
 */
function isCrossSite(context: Context<Env>, scheme: string): boolean {
  const origin = context.req.header('origin')
  if (origin !== undefined && origin !== `${scheme}://${context.req.header('host')}`) return true
  const site = context.req.header('sec-fetch-site')
  if (site === undefined || site === 'same-origin' || site === 'none') return false
  const opensPage = context.req.method === 'GET' && context.req.header('sec-fetch-mode') === 'navigate'
  return !opensPage || context.req.path.startsWith('/api/')
}

function isJson(context: Context<Env>): boolean {
  return /^application\/json\s*(;|$)/i.test(context.req.header('content-type') ?? '')
}

function refuse(context: Context<Env>, status: 401 | 403 | 411 | 413 | 415 | 421, error: string): Response {
  return context.json({ error }, status)
}

export interface Env {
  Bindings: HttpBindings
  /** `maker`: who makes a mark by this request. */
  Variables: { role: Role; maker: 'operator' | 'device' }
}

/** One route of the server. Only listed routes are answered. */
export interface Route {
  readonly method: 'GET' | 'POST' | 'PUT'
  readonly path: string
  /** Required access: anyone, a logger with the write token, a device that watches, or one that operates the bench. */
  readonly for: 'anyone' | 'logger' | 'watcher' | 'operator'
  /** Largest accepted body, [bytes]; absent: none. */
  readonly bodyBytes?: number
  /** Required media type of the body; absent: any. */
  readonly bodyType?: 'json'
  readonly answer: (context: Context<Env>) => Response | Promise<Response>
}
