import { existsSync, mkdtempSync, readdirSync, readFileSync, rmSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { dirname, join } from 'node:path'
import MiniSearch from 'minisearch'
import { afterAll, beforeAll, describe, expect, it } from 'vitest'
import { filesBelow } from '#tests/house/source-files.ts'
import { buildSite } from './site.ts'

let site = ''
beforeAll(() => {
  site = mkdtempSync(join(tmpdir(), 'stillhold-site-'))
  buildSite(site)
})
afterAll(() => rmSync(site, { recursive: true, force: true, maxRetries: 3 }))

const html = (path: string) => readFileSync(join(site, path), 'utf8')
const outside = /^(https?|mailto|data):/
/** Attributes that lead somewhere, outside of shown code. */
const leads = (text: string) =>
  [...text.replaceAll(/<(pre|code)[\s\S]*?<\/\1>/g, '').matchAll(/\s(?:href|src|srcset)="([^"]+)"/g)].map(
    ([, to]) => to,
  )

describe('the site that npm run docs:site makes', () => {
  it('is crawled from its first page: every link and anchor leads somewhere, every document is reached', () => {
    const reached = new Set<string>()
    const dead: string[] = []
    const visit = (path: string) => {
      if (reached.has(path)) return
      reached.add(path)
      if (!path.endsWith('.html')) return
      for (const to of leads(html(path)).filter((each) => !outside.test(each))) {
        const [file, anchor] = to.split('#')
        const target = file === '' ? path : join(dirname(path), file)
        if (!existsSync(join(site, target))) dead.push(`${path}: ${to}`)
        else {
          visit(target)
          if (anchor !== undefined && !html(target).includes(` id="${anchor}"`)) dead.push(`${path}: ${to}`)
        }
      }
    }
    visit('index.html')
    visit('README.html')
    expect(dead).toEqual([])
    const pages = filesBelow('docs', '.md').map(({ path }) => path.replace(/md$/, 'html'))
    expect(pages.filter((path) => !reached.has(path))).toEqual([])
    const made = readdirSync(site, { recursive: true, encoding: 'utf8' }).filter((each) =>
      each.endsWith('.html'),
    )
    expect(made.filter((each) => !reached.has(each))).toEqual([])
  })

  it('finds by its index what a reader types, as the page does', () => {
    const index = /^var index = (.*)$/m.exec(html('search.js'))![1]
    const search = MiniSearch.loadJSON(JSON.parse(index), {
      fields: ['title', 'text'],
      storeFields: ['href', 'page', 'title'],
    })
    const first = (words: string) => search.search(words, { prefix: true, combineWith: 'AND' })[0]?.href
    expect(first('gauge-stuck')).toMatch(/troubleshooting|reason-codes/)
    expect(first('serial port permission')).toMatch(/troubleshooting|loggers/)
    expect(search.search('zebra')).toEqual([])
  })
})
