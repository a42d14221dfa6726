/** Where points are posted, and the credentials. */
export interface WriteAddress {
  readonly url: string
  readonly headers: Readonly<Record<string, string>>
  /** The address without secrets, for messages. */
  readonly shown: string
}

const forms = 'http://host:8086/?db=NAME or http://host:8086/?org=ORG&bucket=BUCKET'

/**
 * Reads `--forward URL`. The parameter `db` selects the path `/write`; `org` and `bucket` select
 * `/api/v2/write`; a path already ending in `/write` is kept. The URL may contain user and password.
 *
 * @throws Error with one plain sentence when the URL names no place to write to.
 */
export function readWriteAddress(text: string, token: string | null = null): WriteAddress {
  let url: URL
  try {
    url = new URL(text)
  } catch {
    throw new Error(`--forward ${text}: not a URL; write ${forms}`)
  }
  if (url.protocol !== 'http:' && url.protocol !== 'https:')
    throw new Error(`--forward ${text}: needs http or https; write ${forms}`)
  const headers: Record<string, string> = {}
  if (token !== null) headers['authorization'] = `Token ${token}`
  else if (url.username !== '') {
    const user = `${decodeURIComponent(url.username)}:${decodeURIComponent(url.password)}`
    headers['authorization'] = `Basic ${Buffer.from(user).toString('base64')}`
  }
  url.username = ''
  url.password = ''
  const query = url.searchParams
  if (!/\/write\/?$/.test(url.pathname)) {
    const base = url.pathname.replace(/\/$/, '')
    if (query.has('db')) url.pathname = `${base}/write`
    else if (query.has('bucket')) url.pathname = `${base}/api/v2/write`
    else throw new Error(`--forward ${url.href}: names no database; write ${forms}`)
  }
  const shown = `${url.origin}${url.pathname}`
  query.set('precision', 'ns')
  return { url: url.href, headers, shown }
}
