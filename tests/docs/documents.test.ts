import { existsSync, readFileSync } from 'node:fs'
import { join } from 'node:path'
import { describe, expect, it } from 'vitest'
import { phrases } from '#analysis/reasons/phrases.ts'
import { newProgram } from '#dashboard/cli/new-program.ts'
import { builtProgram } from '#tests/built-program.ts'
import { codeOf, filesBelow, root } from '#tests/house/source-files.ts'
import { pagesWithOutputs, withOutputs } from './page-outputs.ts'

const page = (path: string) => readFileSync(join(root, path), 'utf8')

describe('documents say what is', () => {
  it.each(pagesWithOutputs().map(({ path, text }) => [path, text] as const))(
    '%s: each output is what its command prints now (else: npm run docs)',
    async (_path, text) => {
      expect(withOutputs(text, await builtProgram())).toBe(text)
    },
    120_000,
  )

  it('docs/decisions.md has a row for every package of package.json, and for no other', () => {
    const { dependencies, optionalDependencies, devDependencies } = JSON.parse(page('package.json'))
    const known = Object.keys({ ...dependencies, ...optionalDependencies, ...devDependencies }).sort()
    const [packages] = page('docs/decisions.md').split('## Written ourselves')
    const rows = [...packages.matchAll(/^\| (`[^|]*`) \|/gm)].flatMap(([, cell]) =>
      [...cell.matchAll(/`([^`]+)`/g)].map(([, name]) => name),
    )
    expect(rows.sort()).toEqual(known)
  })

  it('docs/walk.md: every step names a file, and what that file exports', () => {
    const steps = [
      ...page('docs/walk.md').matchAll(/^\| \d+ \|[^|]*\| \[`([^`]+)`\]\(\.\.\/([^)]+)\) \| ([^|]*) \|/gm),
    ]
    expect(steps.length).toBeGreaterThan(10)
    for (const [, name, path] of steps) {
      expect(existsSync(join(root, path)), path).toBe(true)
      expect(codeOf(page(path)), `${path} exports ${name}`).toMatch(
        new RegExp(`export (async )?(function|class|const) ${name}\\b`),
      )
    }
  })

  it('docs/walk.md: each step calls or is handed the next, as far as the page says so', () => {
    const steps = [
      ...page('docs/walk.md').matchAll(/^\| \d+ \|[^|]*\| \[`([^`]+)`\]\(\.\.\/([^)]+)\) \| ([^|]*) \|/gm),
    ]
    for (const [, name, , usedIn] of steps) {
      const [, path] = /\]\(\.\.\/([^)]+)\)/.exec(usedIn) ?? []
      expect(path, `${name} is used somewhere`).toBeDefined()
      expect(codeOf(page(path!)), `${path} uses ${name}`).toMatch(new RegExp(`\\b${name}\\b`))
    }
  })

  it('no page is empty, and each begins with its title', () => {
    const pages = ['README.md', 'DEVELOPERS.md', ...filesBelow('docs', '.md').map(({ path }) => path)]
    expect(pages.length).toBeGreaterThan(15)
    for (const path of pages) {
      expect(page(path), path).toMatch(/^# \S/)
      expect(page(path).length, path).toBeGreaterThan(300)
    }
  })

  it('every npm script that a document names is in package.json', () => {
    const { scripts } = JSON.parse(page('package.json'))
    for (const path of ['README.md', 'DEVELOPERS.md'])
      for (const [, name] of page(path).matchAll(/\bnpm run ([\w:]+)/g))
        expect(Object.keys(scripts), `${path}: npm run ${name}`).toContain(name)
  })

  it('docs/troubleshooting.md names every reason code, port fault and archive error, and no other', () => {
    const text = page('docs/troubleshooting.md')
    const archiveCodes = /type ArchiveErrorCode =([^/]*?)\n\n/.exec(
      page('dashboard/archive/archive-error.ts'),
    )
    const portCodes = /type PortFaultCode = (.*)/.exec(page('ingest/sources/port.ts'))
    const quoted = [archiveCodes, portCodes].flatMap((found) =>
      [...(found?.[1] ?? '').matchAll(/'([a-z-]+)'/g)].map(([, code]) => code),
    )
    expect(quoted.length).toBeGreaterThan(15)
    const known = [...Object.keys(phrases), ...quoted, 'logger-reset']
    expect(known.filter((code) => !text.includes(`\`${code}\``))).toEqual([])
    const named = [...text.matchAll(/`([a-z]+(?:-[a-z]+)+)`/g)].map(([, code]) => code)
    expect(named.filter((code) => !known.includes(code))).toEqual([])
  })

  it('newProgram(version) is called stillhold, as every document writes it', () => {
    expect(newProgram('1').name()).toBe('stillhold')
  })
})
