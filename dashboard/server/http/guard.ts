import type { HttpBindings } from '@hono/node-server'
import type { Context, MiddlewareHandler } from 'hono'
import { getCookie } from 'hono/cookie'
import { httpWritePaths } from '#ingest/sources/http-write.ts'
import { isLoopback, isOwnHost } from './own-hosts.ts'
import type { Role, Sharing } from './sharing.ts'

export interface Env {
  Bindings: HttpBindings
  Variables: { role: Role }
}

export const deviceCookie = 'stillhold_device'

/** Paths open to a device that has not joined yet. */
const joinPaths = ['/join', '/join.css']

export interface GuardOptions {
  /** Null while only this machine may connect. */
  readonly sharing: Sharing | null
  /** The port in use; known only once the server listens. */
  readonly port: () => number
  readonly scheme: 'http' | 'https'
  /** Routes by which loggers deliver; they ask for a token instead of a cookie. Null where they may not. */
  readonly write: unknown
}

/**
 * Refuses what a stranger or a page of another site could send, before any route sees it:
 * a foreign Host (DNS rebinding), another site's scripts (cross-site requests, streams and forms),
 * a device without a cookie, and a viewer who wants to change something.
 */
export function guard({ sharing, port, scheme, write }: GuardOptions): MiddlewareHandler<Env> {
  return async (context, next) => {
    const { method, path } = context.req
    if (!isOwnHost(context.req.header('host'), port(), { lan: sharing !== null, scheme })) {
      return refuse(
        context,
        421,
        'This address does not belong to the bench: open the page by the address the program printed.',
      )
    }
    if (write && (httpWritePaths as readonly string[]).includes(path)) return next()
    if (isCrossSite(context, scheme)) {
      return refuse(context, 403, 'Requests from other sites are refused: open the page itself.')
    }
    const changes = method !== 'GET' && method !== 'HEAD'
    if (changes && path.startsWith('/api/') && !isJson(context)) {
      return refuse(context, 415, 'Send JSON, with content-type: application/json.')
    }
    if (sharing && joinPaths.includes(path)) return next()
    const role = roleOf(context, sharing)
    if (!role) {
      if (path.startsWith('/api/') || changes) {
        return refuse(
          context,
          401,
          'This device has not joined the bench: open /join and give the code from the terminal.',
        )
      }
      return context.redirect('/join', 303)
    }
    if (changes && role !== 'operator') {
      return refuse(context, 403, 'This device may only watch: join with the operator’s code to do that.')
    }
    context.set('role', role)
    return next()
  }
}

/** The person at the machine itself operates the bench; every other device has the role of its cookie. */
function roleOf(context: Context<Env>, sharing: Sharing | null): Role | null {
  if (isLoopback(context.env.incoming.socket.remoteAddress ?? '')) return 'operator'
  const token = getCookie(context, deviceCookie)
  return sharing && token ? sharing.roleOfToken(token) : null
}

/**
 * True when a browser says that another site asks. A link from elsewhere may open the page, nothing more.
 * Programs that are no browser send neither header.
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

function refuse(context: Context<Env>, status: 401 | 403 | 415 | 421, error: string): Response {
  return context.json({ error }, status)
}
