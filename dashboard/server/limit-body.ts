import type { MiddlewareHandler } from 'hono'
import type { Env } from './guard.ts'

/** A system file is the largest thing a page sends. */
const bodyAtMostBytes = 1024 * 1024

/**
 * Refuses a body before it is read: by the length that its head states. One that states none, in chunks, is not taken:
 * pages and scripts send the length of what they have at hand, and loggers have routes of their own.
 */
export const limitBody: MiddlewareHandler<Env> = async (context, next) => {
  const length = Number(context.req.header('content-length') ?? 0)
  if (context.req.header('transfer-encoding') !== undefined)
    return context.json({ error: 'Send the body in one piece, with its content-length.' }, 411)
  if (length > bodyAtMostBytes) return context.json({ error: 'The request is larger than 1 MB.' }, 413)
  return next()
}
