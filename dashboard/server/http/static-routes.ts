import type { Route } from './guard.ts'
import { RouteTable } from './routes.ts'
import { encodings, type PageFile } from './static-page.ts'

/** The built page. A path that is no file gives the page itself, which reads the path. */
export function staticRoutes(files: ReadonlyMap<string, PageFile>): Route[] {
  const table = new RouteTable()
  table.get('*', (context) => {
    const { path } = context.req
    const file = files.get(path) ?? (/^\/[\w/@-]*$/.test(path) ? files.get('/') : undefined)
    if (path.startsWith('/api/') || !file) {
      const error =
        files.size === 0
          ? 'The page is not built: run npm run build.'
          : `There is nothing at ${path.slice(0, 100)}.`
      return context.json({ error }, 404)
    }
    const headers = {
      'content-type': file.type,
      etag: file.tag,
      vary: 'accept-encoding',
      'cache-control': file.lasting ? 'private, max-age=31536000, immutable' : 'no-cache',
    }
    if (context.req.header('if-none-match') === file.tag) return context.body(null, 304, headers)
    const encoding = bestEncoding(file, context.req.header('accept-encoding') ?? '')
    if (encoding === null) return context.body(file.bytes, 200, headers)
    return context.body(file.encoded[encoding]!, 200, { ...headers, 'content-encoding': encoding })
  })
  return table.routes
}

/** The best encoding that both sides have; `q=0` refuses one. */
function bestEncoding(file: PageFile, accepted: string): keyof typeof encodings | null {
  const offered = accepted
    .split(',')
    .map((part) => part.trim().toLowerCase())
    .filter((part) => !/;\s*q=0(\.0*)?$/.test(part))
    .map((part) => part.split(';')[0])
  const names = Object.keys(encodings) as (keyof typeof encodings)[]
  return names.find((name) => file.encoded[name] && offered.includes(name)) ?? null
}
