import { existsSync, readFileSync } from 'node:fs'
import { dirname, join } from 'node:path'
import { describe, expect, it } from 'vitest'
import { filesBelow, root } from './source-files.ts'

const pages = [
  ...['README.md', 'DEVELOPERS.md'].map((path) => ({ path, text: readFileSync(join(root, path), 'utf8') })),
  ...filesBelow('docs', '.md'),
  ...filesBelow('recordings', '.md'),
]

/** Links outside of code. */
function linksOf(text: string): string[] {
  const prose = text.replaceAll(/```[\s\S]*?```|`[^`\n]*`/g, '')
  return [
    ...[...prose.matchAll(/\]\(([^)\s]+)\)/g)].map((match) => match[1]),
    ...[...prose.matchAll(/<(?:img|a|source)[^>]*\s(?:src|href|srcset)="([^"]+)"/g)].map((match) => match[1]),
  ]
}

/** The name by which a page's heading is linked to. */
function anchorsOf(text: string): string[] {
  return [...text.replaceAll(/```[\s\S]*?```/g, '').matchAll(/^#+ (.+)$/gm)].map(([, heading]) =>
    heading
      .toLowerCase()
      .replaceAll(/[^\p{L}\p{N}\s_-]/gu, '')
      .trim()
      .replaceAll(/\s/g, '-'),
  )
}

describe('documents', () => {
  it.each(pages.map(({ path, text }) => [path, text] as const))(
    '%s: every link leads somewhere',
    (path, text) => {
      const dead = linksOf(text).filter((link) => {
        if (/^(https?|mailto):/.test(link)) return false
        const [file, anchor] = link.split('#')
        const to = file === '' ? join(root, path) : join(root, dirname(path), decodeURIComponent(file))
        if (!existsSync(to)) return true
        return (
          anchor !== undefined && to.endsWith('.md') && !anchorsOf(readFileSync(to, 'utf8')).includes(anchor)
        )
      })
      expect(dead).toEqual([])
    },
  )

  it('every page of docs can be reached from the README by links', () => {
    const reached = new Set<string>()
    const visit = (path: string) => {
      if (reached.has(path) || !path.endsWith('.md') || !existsSync(join(root, path))) return
      reached.add(path)
      for (const link of linksOf(readFileSync(join(root, path), 'utf8')))
        if (!/^(https?|mailto):|^#/.test(link)) visit(join(dirname(path), link.split('#')[0]))
    }
    visit('README.md')
    expect(pages.map(({ path }) => path).filter((path) => !reached.has(path))).toEqual([])
  })
})
