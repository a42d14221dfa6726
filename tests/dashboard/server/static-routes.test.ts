import { mkdtempSync, rmSync, writeFileSync } from 'node:fs'
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
const app = new Hono<Env>()
const table = new RouteTable()
staticRoutes(table, readStaticPage(folder))
for (const { method, path, answer } of table.routes) app.on(method, path, answer)

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
