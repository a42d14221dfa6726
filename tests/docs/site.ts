import { copyFileSync, mkdirSync, readdirSync, readFileSync, rmSync, statSync, writeFileSync } from 'node:fs'
import { createRequire } from 'node:module'
import { dirname, extname, join, posix, resolve } from 'node:path'
import { Marked } from 'marked'
import MiniSearch from 'minisearch'
import { filesBelow, root } from '#tests/house/source-files.ts'

/**
 * The documents as a static site with search, which opens from a disk as from a server. It mirrors the repository: a page
 * `docs/safety.md` becomes `docs/safety.html`, and a file of code that a page links to becomes a page of its own.
 */
export function buildSite(out: string): void {
  rmSync(out, { recursive: true, force: true })
  const pages = [
    'README.md',
    'DEVELOPERS.md',
    ...[...filesBelow('docs', '.md'), ...filesBelow('recordings', '.md')].map(({ path }) => path),
  ]
  const navigation = [...textOf('docs/README.md').matchAll(/\*\*([^*]+)\*\*|\[([^\]]+)\]\(([^)]+)\)/g)]
  const linked = new Set<string>()
  const sections: { id: number; href: string; page: string; title: string; text: string }[] = []

  for (const path of pages) {
    const headings: string[] = []
    const marked = new Marked({ gfm: true })
    marked.use({
      walkTokens: (token) => {
        if (token.type !== 'link' && token.type !== 'image') return
        token.href = inSite(path, token.href, linked)
      },
      renderer: {
        heading({ tokens, depth, text }) {
          headings.push(text)
          return `<h${depth} id="${anchorOf(text)}">${this.parser.parseInline(tokens)}</h${depth}>\n`
        },
      },
    })
    const markdown = textOf(path)
    const body = (marked.parse(markdown) as string).replaceAll(
      /(<(?:img|source)[^>]*\s(?:src|srcset)=")([^":]+)"/g,
      (_all, before: string, to: string) => `${before}${inSite(path, to, linked)}"`,
    )
    const title = headings[0] ?? path
    write(out, htmlPath(path), framed(path, title, body, navigation))
    for (const part of markdown.split(/^(?=#{1,3} )/m)) {
      const heading = /^#+ (.+)/.exec(part)?.[1] ?? title
      const text = part.replaceAll(/<!--[\s\S]*?-->|[`*|#]|\]\([^)]*\)/g, ' ').replaceAll(/\s+/g, ' ')
      const href = `${htmlPath(path)}#${anchorOf(heading)}`
      sections.push({ id: sections.length, href, page: title, title: heading, text })
    }
  }

  for (const path of linked) {
    const from = join(root, path)
    if (/\.(png|svg|jpe?g|webp)$/.test(path)) {
      mkdirSync(dirname(join(out, path)), { recursive: true })
      copyFileSync(from, join(out, path))
    } else {
      const text = statSync(from).isDirectory() ? readdirSync(from).join('\n') : readFileSync(from, 'utf8')
      write(
        out,
        htmlPath(path),
        framed(path, path, `<h1>${path}</h1><pre>${escaped(text)}</pre>`, navigation),
      )
    }
  }

  const search = new MiniSearch({ fields: ['title', 'text'], storeFields: ['href', 'page', 'title'] })
  search.addAll(sections)
  const library = createRequire(import.meta.url)
    .resolve('minisearch')
    .replace(/cjs.index\.cjs$/, 'umd/index.js')
  write(
    out,
    'search.js',
    `${readFileSync(library, 'utf8')}\nvar index = ${JSON.stringify(JSON.stringify(search))}\n${lookUp}`,
  )
  write(out, 'site.css', style)
  write(
    out,
    'index.html',
    '<!doctype html><meta http-equiv="refresh" content="0; url=README.html"><title>Stillhold</title><a href="README.html">Stillhold</a>\n',
  )
}

const textOf = (path: string): string => readFileSync(join(root, path), 'utf8')
const escaped = (text: string): string =>
  text.replaceAll('&', '&amp;').replaceAll('<', '&lt;').replaceAll('>', '&gt;')
const htmlPath = (path: string): string =>
  path.endsWith('.md') ? path.replace(/md$/, 'html') : `${path}.html`

/** As GitHub names a heading, so that one link serves there and here. */
const anchorOf = (heading: string): string =>
  heading
    .toLowerCase()
    .replaceAll(/[^\p{L}\p{N}\s_-]/gu, '')
    .trim()
    .replaceAll(/\s/g, '-')

/** A link of a page as it is in the site; files that are no page are noted, so that they are put there. */
function inSite(page: string, href: string, linked: Set<string>): string {
  if (/^(https?|mailto):|^#/.test(href)) return href
  const [file, anchor] = href.split('#')
  const path = posix.join(posix.dirname(page), decodeURIComponent(file)).replace(/\/$/, '')
  if (extname(path) !== '.md') linked.add(path)
  const target = /\.(png|svg|jpe?g|webp)$/.test(path) ? path : htmlPath(path)
  const relative = posix.relative(posix.dirname(page), target)
  return anchor === undefined ? relative : `${relative}#${anchor}`
}

function write(out: string, path: string, text: string): void {
  mkdirSync(dirname(join(out, path)), { recursive: true })
  writeFileSync(join(out, path), text)
}

function framed(path: string, title: string, body: string, navigation: readonly RegExpExecArray[]): string {
  const up = posix.relative(posix.dirname(path), '.') || '.'
  const links = navigation.map(([, heading, text, href]) =>
    heading === undefined
      ? `<a href="${up}/${htmlPath(posix.join('docs', href))}">${text}</a>`
      : `<b>${heading}</b>`,
  )
  return `<!doctype html>
<html lang="en"><meta charset="utf-8"><meta name="viewport" content="width=device-width, initial-scale=1">
<title>${escaped(title)} – Stillhold</title><link rel="stylesheet" href="${up}/site.css">
<header><a href="${up}/README.html">Stillhold</a><input type="search" id="search" aria-label="Search the documents" placeholder="Search" data-up="${up}/" autocomplete="off"><ul id="found"></ul></header>
<nav>${links.join('\n')}</nav>
<main>${body}</main>
<script src="${up}/search.js"></script>
</html>
`
}

/** Runs in the reader's browser. */
const lookUp = `
var search = MiniSearch.loadJSON(index, { fields: ['title', 'text'], storeFields: ['href', 'page', 'title'] })
var field = document.getElementById('search'), found = document.getElementById('found')
field.addEventListener('input', function () {
  var hits = search.search(field.value, { prefix: true, fuzzy: 0.15, boost: { title: 3 }, combineWith: 'AND' }).slice(0, 12)
  found.replaceChildren.apply(found, hits.map(function (hit) {
    var link = document.createElement('a'), row = document.createElement('li')
    link.href = field.dataset.up + hit.href
    link.textContent = hit.title === hit.page ? hit.page : hit.page + ': ' + hit.title
    row.append(link)
    return row
  }))
})
`

const style = `:root { color-scheme: light dark; font: 17px/1.5 system-ui, sans-serif }
body { display: grid; grid-template: auto 1fr / 15rem minmax(0, 48rem); gap: 0 2rem; margin: 0 auto; max-width: 68rem; padding: 0 1rem }
header { grid-column: 1 / -1; display: flex; flex-wrap: wrap; gap: 1rem; align-items: center; padding: .8rem 0; border-bottom: 1px solid #8886 }
header a { font-weight: 600; font-size: 1.2rem; text-decoration: none; color: inherit }
input { font: inherit; flex: 1; max-width: 24rem; padding: .3rem .6rem }
#found { flex-basis: 100%; margin: 0 } #found:empty { display: none } #found a { font-weight: 400; font-size: 1rem }
nav { display: flex; flex-direction: column; gap: .25rem; padding: 1rem 0; font-size: .95rem } nav b { margin-top: .8rem }
main { padding: 0 0 4rem; overflow-wrap: break-word } img { max-width: 100% }
pre { overflow-x: auto; padding: .8rem; background: #8881; font-size: .85rem } code { font-size: .92em }
table { border-collapse: collapse; display: block; overflow-x: auto } th, td { text-align: left; vertical-align: top; padding: .3rem .7rem .3rem 0; border-bottom: 1px solid #8884 }
blockquote { margin: 1rem 0; padding: .2rem 1rem; border-left: 4px solid #b3261e }
@media (max-width: 52rem) { body { display: block } nav { flex-flow: row wrap; gap: .3rem 1rem } nav b { flex-basis: 100% } }
`

if (process.argv[1] !== undefined && resolve(process.argv[1]) === import.meta.filename) {
  const out = join(root, 'artifacts', 'site')
  buildSite(out)
  process.stdout.write(`${join(out, 'index.html')}\n`)
}
