import { createHash } from 'node:crypto'
import { existsSync, readdirSync, readFileSync } from 'node:fs'
import { extname, join, relative, sep } from 'node:path'
import type { RouteTable } from './routes.ts'

/** Content encodings that the build writes, best first, with their file extensions. */
const encodings = { br: '.br', gzip: '.gz' } as const
type Encoding = keyof typeof encodings

export interface PageFile {
  readonly bytes: Uint8Array<ArrayBuffer>
  /** The same bytes as compressed by the build, by content encoding. */
  readonly encoded: Readonly<Partial<Record<Encoding, Uint8Array<ArrayBuffer>>>>
  readonly type: string
  readonly tag: string
  /** True when the name contains the hash of the content: it may be cached forever. */
  readonly lasting: boolean
}

const types: Readonly<Record<string, string>> = {
  '.html': 'text/html; charset=utf-8',
  '.js': 'text/javascript; charset=utf-8',
  '.css': 'text/css; charset=utf-8',
  '.svg': 'image/svg+xml',
  '.png': 'image/png',
  '.ico': 'image/x-icon',
  '.woff2': 'font/woff2',
  '.woff': 'font/woff',
  '.ttf': 'font/ttf',
  '.json': 'application/json',
  '.webmanifest': 'application/manifest+json',
  '.txt': 'text/plain; charset=utf-8',
}

/**
 * Loads the built page into memory: a request is looked up in this table and never becomes a path on disk.
 * An absent folder gives an empty table.
 */
export function readStaticPage(folder: string): ReadonlyMap<string, PageFile> {
  const files = new Map<string, PageFile>()
  if (!existsSync(folder)) return files
  for (const entry of readdirSync(folder, { recursive: true, withFileTypes: true })) {
    const type = types[extname(entry.name)]
    if (!entry.isFile() || !type) continue
    const path = join(entry.parentPath, entry.name)
    const bytes = new Uint8Array(readFileSync(path))
    const encoded = Object.fromEntries(
      Object.entries(encodings)
        .filter(([, ending]) => existsSync(path + ending))
        .map(([name, ending]) => [name, new Uint8Array(readFileSync(path + ending))]),
    )
    const url = `/${relative(folder, path).split(sep).join('/')}`
    files.set(url, {
      bytes,
      encoded,
      type,
      tag: `"${createHash('sha256').update(bytes).digest('base64url').slice(0, 16)}"`,
      lasting: /-[\w-]{8}\.\w+$/.test(entry.name),
    })
  }
  const index = files.get('/index.html')
  if (index) files.set('/', index)
  return files
}

/** The built page. A path that is no file returns the page itself, which reads the path. */
export function staticRoutes(table: RouteTable, files: ReadonlyMap<string, PageFile>): void {
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
}

/** The best encoding that both sides support; `q=0` refuses one. */
function bestEncoding(file: PageFile, accepted: string): keyof typeof encodings | null {
  const offered = accepted
    .split(',')
    .map((part) => part.trim().toLowerCase())
    .filter((part) => !/;\s*q=0(\.0*)?$/.test(part))
    .map((part) => part.split(';')[0])
  const names = Object.keys(encodings) as (keyof typeof encodings)[]
  return names.find((name) => file.encoded[name] && offered.includes(name)) ?? null
}
