import { mkdirSync, mkdtempSync, rmSync, writeFileSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { brotliCompressSync, gzipSync } from 'node:zlib'
import { Hono } from 'hono'
import { afterAll, expect, it } from 'vitest'
import type { Env } from '#dashboard/server/http/guard.ts'
import { RouteTable } from '#dashboard/server/http/routes.ts'
import { readStaticPage, staticRoutes } from '#dashboard/server/http/static-page.ts'

const folder = mkdtempSync(join(tmpdir(), 'stillhold-static-'))
afterAll(() => rmSync(folder, { recursive: true, force: true }))
const text = '<!doctype html><title>a page</title>'
writeFileSync(join(folder, 'index.html'), text)
writeFileSync(join(folder, 'index.html.br'), brotliCompressSync(text))
writeFileSync(join(folder, 'index.html.gz'), gzipSync(text))
function served(pages: string): Hono<Env> {
  const app = new Hono<Env>()
  const table = new RouteTable()
  staticRoutes(table, readStaticPage(pages))
  for (const { method, path, answer } of table.routes) app.on(method, path, answer)
  return app
}
const app = served(folder)
const built = join(folder, 'built')
mkdirSync(join(built, 'assets', 'folder.js'), { recursive: true })
writeFileSync(join(built, 'index.html'), text)
const ends = ['js', 'svg', 'png', 'ico', 'woff2', 'woff', 'ttf', 'json', 'webmanifest', 'txt', 'exe'].map(
  (end) => `.${end}`,
)
for (const name of [
  ...ends.map((end) => `${end === '.js' ? 'app' : 'a'}${end}`),
  'app-a1B2_c3d.js',
  'app-a1B2c3d.css',
])
  writeFileSync(join(built, 'assets', name), name)
const assets = served(built)

// RFC 9110, 12.5.3: q=0 means "not acceptable"; names without a weight have weight 1.
it.each([
  ['gzip, deflate, br, zstd', 'br', brotliCompressSync(text)],
  ['gzip, deflate', 'gzip', gzipSync(text)],
  ['br;q=0, gzip;q=0.5', 'gzip', gzipSync(text)],
  ['identity', null, Buffer.from(text)],
  ['', null, Buffer.from(text)],
] as const)(
  'GET / with accept-encoding "%s" answers with content-encoding %s',
  async (accepted, encoding, bytes) => {
    const answer = await app.request('/', { headers: { 'accept-encoding': accepted } })
    expect(answer.headers.get('content-encoding')).toBe(encoding)
    expect(answer.headers.get('vary')).toBe('accept-encoding')
    expect(Buffer.from(await answer.arrayBuffer())).toEqual(bytes)
  },
)

it('GET of a compressed file by its own name finds none: only the pages are in the table', async () => {
  expect((await app.request('/index.html.br')).status).toBe(404)
})

// Media types: IANA registry. A name with the hash of its content never changes its content.
it.each([
  ['app-a1B2_c3d.js', 'text/javascript; charset=utf-8', 'private, max-age=31536000, immutable'],
  ['app.js', 'text/javascript; charset=utf-8', 'no-cache'],
  ['app-a1B2c3d.css', 'text/css; charset=utf-8', 'no-cache'],
  ['a.svg', 'image/svg+xml', 'no-cache'],
  ['a.png', 'image/png', 'no-cache'],
  ['a.ico', 'image/x-icon', 'no-cache'],
  ['a.woff2', 'font/woff2', 'no-cache'],
  ['a.woff', 'font/woff', 'no-cache'],
  ['a.ttf', 'font/ttf', 'no-cache'],
  ['a.json', 'application/json', 'no-cache'],
  ['a.webmanifest', 'application/manifest+json', 'no-cache'],
  ['a.txt', 'text/plain; charset=utf-8', 'no-cache'],
])('GET /assets/%s answers with the type %s, kept by the browser: %s', async (name, type, cache) => {
  const answer = await assets.request(`/assets/${name}`)
  expect([answer.status, answer.headers.get('content-type'), answer.headers.get('cache-control')]).toEqual([
    ...[200, type, cache],
  ])
  expect(await answer.text()).toBe(name)
  const etag = answer.headers.get('etag') ?? ''
  expect(etag).toMatch(/^"[\w-]{16}"$/)
  const again = await assets.request(`/assets/${name}`, { headers: { 'if-none-match': etag } })
  expect([again.status, await again.text()]).toEqual([304, ''])
  expect((await assets.request(`/assets/${name}`, { headers: { 'if-none-match': '"x"' } })).status).toBe(200)
})

it('GET of a path without a file is the page where the page may read it, else 404', async () => {
  for (const path of ['/', '/records', '/records/0001-x@ab/', '/index.html'])
    expect(await (await assets.request(path)).text()).toBe(text)
  for (const path of ['/api/none', '/none.js', '/a b', `/x.${'y'.repeat(200)}`, '/assets/a.exe']) {
    const answer = await assets.request(path)
    const error = `There is nothing at ${new URL(`http://x${path}`).pathname.slice(0, 100).replace('%20', ' ')}.`
    expect([answer.status, await answer.json()]).toEqual([404, { error }])
  }
})

it('GET of a page that was not built says what to do', async () => {
  const answer = await served(join(folder, 'nowhere')).request('/')
  expect([answer.status, await answer.json()]).toEqual([
    404,
    { error: 'The page is not built: run npm run build.' },
  ])
})
