import { promisify } from 'node:util'
import { gzip } from 'node:zlib'
import type { WriteAddress } from './write-address.ts'

const zip = promisify(gzip)
const timeoutMs = 15_000

export type PostOutcome =
  | { readonly kind: 'taken' }
  /** The server cannot accept them now: overloaded, unreachable or misconfigured. */
  | { readonly kind: 'later'; readonly message: string }
  /** The server refuses these lines, or a batch of this size. */
  | { readonly kind: 'refused'; readonly message: string }

/** Posts lines of line protocol once and classifies the answer. Never throws. */
export async function postLines(
  address: WriteAddress,
  lines: readonly string[],
  signal: AbortSignal,
): Promise<PostOutcome> {
  let response: Response
  let body: string
  try {
    response = await fetch(address.url, {
      method: 'POST',
      headers: {
        ...address.headers,
        'content-type': 'text/plain; charset=utf-8',
        'content-encoding': 'gzip',
      },
      body: await zip(`${lines.join('\n')}\n`),
      signal: AbortSignal.any([signal, AbortSignal.timeout(timeoutMs)]),
      redirect: 'error',
    })
    body = await response.text()
  } catch (error) {
    return { kind: 'later', message: `${address.shown} does not answer (${causeOf(error)})` }
  }
  if (response.ok) return { kind: 'taken' }
  const message = `${address.shown} answers ${response.status}: ${messageOf(body)}`
  const faultOfLines = response.status === 400 || response.status === 413 || response.status === 422
  return { kind: faultOfLines ? 'refused' : 'later', message }
}

function causeOf(error: unknown): string {
  if (!(error instanceof Error)) return String(error)
  const cause = error.cause
  if (cause instanceof Error) return 'code' in cause ? String(cause.code) : cause.message
  return error.name === 'TimeoutError' ? `no answer in ${timeoutMs / 1000} s` : error.message
}

function messageOf(body: string): string {
  try {
    const parsed = JSON.parse(body)
    const message = parsed.error ?? parsed.message
    if (typeof message === 'string') return message
  } catch {
    // Not JSON: shown verbatim.
  }
  return body.slice(0, 200).trim() || 'no reason given'
}
