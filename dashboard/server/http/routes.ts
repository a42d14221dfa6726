import { type Context, Hono, type MiddlewareHandler } from 'hono'
import type * as v from 'valibot'
import { ArchiveError } from '#dashboard/archive/archive-error.ts'
import { type Env, type GuardOptions, type Route, refusal } from './guard.ts'
import { readBody } from './read-request.ts'
import { RequestError } from './request-error.ts'

export const methods = ['GET', 'POST', 'PUT', 'DELETE', 'PATCH', 'OPTIONS'] as const

/** The largest of the small bodies: an order to start a hold with its checklist. */
const changeBytes = 256 * 1024
/** A system file. */
const textBytes = 1024 * 1024
/** The form with which a device sends its code, or selects an aircraft. */
const formBytes = 4096

/** Result of a route: a response, or a value that is sent as JSON. */
type Answered = (context: Context<Env>) => unknown

/** Collects routes; each method sets who may ask and how much may be sent. */
export class RouteTable {
  readonly routes: Route[] = []

  /** Read access for every device that joined. */
  get(path: string, answer: Answered): void {
    this.routes.push({ method: 'GET', path, for: 'watcher', answer: asJson(answer) })
  }

  /** An action or a computation for an operator, sent as JSON of this shape. */
  post<S extends v.GenericSchema>(
    path: string,
    shape: S,
    act: (body: v.InferOutput<S>, context: Context<Env>) => unknown,
    bodyBytes = changeBytes,
  ): void {
    const answer = asJson(async (context) => act(await readBody(context, shape), context))
    this.routes.push({ method: 'POST', path, for: 'operator', bodyBytes, bodyType: 'json', answer })
  }

  /** A text or value that an operator replaces, sent as JSON of this shape. */
  put<S extends v.GenericSchema>(path: string, shape: S, act: (body: v.InferOutput<S>) => unknown): void {
    const answer = asJson(async (context) => act(await readBody(context, shape)))
    this.routes.push({ method: 'PUT', path, for: 'operator', bodyBytes: textBytes, bodyType: 'json', answer })
  }

  /** An operator's action from a page without a script, sent as a form. */
  form(path: string, answer: Route['answer']): void {
    this.routes.push({ method: 'POST', path, for: 'operator', bodyBytes: formBytes, answer })
  }

  /** Open to a device that has not joined. */
  forAnyone(method: 'GET' | 'POST', path: string, answer: Route['answer']): void {
    const sent = method === 'POST' && { bodyBytes: formBytes }
    this.routes.push({ method, path, for: 'anyone', answer, ...sent })
  }
}

const asJson =
  (answer: Answered): Route['answer'] =>
  async (context) => {
    const value = await answer(context)
    return value instanceof Response ? value : context.json(value)
  }

/** The table of all routes as one app. Only this function adds routes, so each one is behind the guard and its limits. */
export function serveRoutes(routes: readonly Route[], options: GuardOptions): Hono<Env> {
  const app = new Hono<Env>()
  app.use(pageHeaders)
  const guarded = (route: Omit<Route, 'method' | 'path'>) => async (context: Context<Env>) =>
    (await refusal(context, route, options)) ?? route.answer(context)
  const add = (route: Route) => app.on(route.method, route.path, guarded(route))
  const named = routes.filter(({ path }) => path !== '*')
  named.forEach(add)
  for (const path of new Set(named.map((route) => route.path))) {
    const known = named.filter((route) => route.path === path).map(({ method }) => method)
    const allow = known.join(', ')
    const answer = (context: Context<Env>) =>
      context.json({ error: `${context.req.path.slice(0, 100)} takes ${allow} only.` }, 405, { allow })
    app.on(
      methods.filter((method) => !known.some((one) => one === method)),
      path,
      guarded({ for: 'watcher', answer }),
    )
  }
  routes.filter(({ path }) => path === '*').forEach(add)
  const nothing = (context: Context<Env>) =>
    context.json({ error: `There is nothing at ${context.req.path.slice(0, 100)}.` }, 404)
  app.all('*', guarded({ for: 'watcher', answer: nothing }))
  app.onError((error, context) => {
    if (error instanceof RequestError) return context.json({ error: error.message }, error.status)
    if (error instanceof ArchiveError)
      return context.json({ error: error.message }, error.code === 'not-found' ? 404 : 500)
    process.stderr.write(`${context.req.method} ${context.req.path}: ${error.stack ?? error.message}\n`)
    return context.json({ error: `The program failed at this request: ${error.message}` }, 500)
  })
  return app
}

const contentPolicy = [
  "default-src 'none'",
  "script-src 'self'",
  "style-src 'self'",
  "img-src 'self' data: blob:",
  "font-src 'self'",
  "connect-src 'self'",
  "manifest-src 'self'",
  "form-action 'self'",
  "frame-ancestors 'none'",
  "base-uri 'none'",
].join('; ')

/** Security headers of every answer: no inline script, no outside request, no framing, no guessing of types. */
const pageHeaders: MiddlewareHandler = async (context, next) => {
  await next()
  const headers = context.res.headers
  headers.set('content-security-policy', contentPolicy)
  headers.set('x-content-type-options', 'nosniff')
  // Referrer to this bench only: without one a browser sends forms with the origin 'null', like another site.
  headers.set('referrer-policy', 'same-origin')
  headers.set('cross-origin-opener-policy', 'same-origin')
  headers.set('cross-origin-resource-policy', 'same-origin')
  headers.set('permissions-policy', 'camera=(self), microphone=(), geolocation=()')
  if (!headers.has('cache-control')) headers.set('cache-control', 'no-store')
}
