import type { ContentfulStatusCode } from 'hono/utils/http-status'

/** A request that cannot be carried out; the message says in one plain sentence what, where, and what to do. */
export class RequestError extends Error {
  override name = 'RequestError'
  readonly status: ContentfulStatusCode

  constructor(status: 400 | 403 | 404 | 409 | 413 | 422 | 503 | 507, message: string) {
    super(message)
    this.status = status
  }
}
