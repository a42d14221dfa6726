import type { MiddlewareHandler } from 'hono'

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

/** What every answer carries: no inline script, no outside request, no framing, no guessing of types. */
export const pageHeaders: MiddlewareHandler = async (context, next) => {
  await next()
  const headers = context.res.headers
  headers.set('content-security-policy', contentPolicy)
  headers.set('x-content-type-options', 'nosniff')
  headers.set('referrer-policy', 'no-referrer')
  headers.set('cross-origin-opener-policy', 'same-origin')
  headers.set('cross-origin-resource-policy', 'same-origin')
  headers.set('permissions-policy', 'camera=(self), microphone=(), geolocation=()')
  if (!headers.has('cache-control')) headers.set('cache-control', 'no-store')
}
