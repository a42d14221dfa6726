import { createHash, randomBytes, timingSafeEqual } from 'node:crypto'

/** The user's own token if set, so that a logger needs no new one at each start; else a random one. */
export function writeTokenFrom(environment: NodeJS.ProcessEnv): string {
  return environment.STILLHOLD_WRITE_TOKEN || randomBytes(16).toString('hex')
}

/** Whether a request has the token, in any form that clients of the write protocol use. */
export function hasToken(request: Request, token: string): boolean {
  return givenTokens(request).some((given) => isSame(given, token))
}

/** New clients send `Token` or `Bearer`, old ones a password, in the header or in the address. */
function givenTokens(request: Request): string[] {
  const header = request.headers.get('authorization') ?? ''
  const [scheme = '', value = ''] = header.split(/\s+/, 2)
  const found = [new URL(request.url).searchParams.get('p') ?? '']
  if (/^(token|bearer)$/i.test(scheme)) found.push(value)
  if (/^basic$/i.test(scheme))
    found.push(
      Buffer.from(value, 'base64')
        .toString('utf8')
        .replace(/^[^:]*:/, ''),
    )
  return found
}

/** Constant-time comparison: its duration reveals nothing about the token. */
function isSame(given: string, token: string): boolean {
  const digest = (text: string) => createHash('sha256').update(text).digest()
  return timingSafeEqual(digest(given), digest(token))
}
