import type { MiddlewareHandler } from 'hono'
import type { Env } from './guard.ts'

/** A system file is the largest thing a page sends. */
const bodyAtMostBytes = 1024 * 1024

/** Photos of a wet stage and recordings of a sender come with their sheet; their pages tell this limit. */
const filesAtMostBytes = 16 * 1024 * 1024
const carriesFiles = /^\/api\/(wet|level)$/

const hint = (most: number): string =>
  most === filesAtMostBytes ? ' Photos of a stage may have 12 MB together, recordings 16 MB.' : ''

/**
 * Refuses a body before it is read: by the length that its head states. One that states none, in chunks, is not taken:
 * pages and scripts send the length of what they have at hand, and loggers have routes of their own.
 */
export const limitBody: MiddlewareHandler<Env> = async (context, next) => {
  const length = Number(context.req.header('content-length') ?? 0)
  if (context.req.header('transfer-encoding') !== undefined)
    return context.json({ error: 'Send the body in one piece, with its content-length.' }, 411)
  const most = carriesFiles.test(context.req.path) ? filesAtMostBytes : bodyAtMostBytes
  if (length > most)
    return context.json({ error: `The request is larger than ${most / 1024 ** 2} MB.${hint(most)}` }, 413)
  return next()
}
