import { existsSync, readFileSync } from 'node:fs'
import { join } from 'node:path'
import { describe, expect, it } from 'vitest'
import { phrases } from '#analysis/reasons/phrases.ts'
import { newProgram } from '#dashboard/cli/commands.ts'
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

  it('docs/method.md: the hold by hand is what the recording gives, step by step', () => {
    const hold = page('recordings/lines-leak.lp')
      .split('\n')
      .filter((line) => line.startsWith('logger'))
      .map((line) => {
        const [, p, c, hPa, ns] = /p3=([-\d.]+).*t3=([-\d.]+).*baro=([-\d.]+).* (\d+)$/.exec(line)!
        return { p: Number(p), c: Number(c), hPa: Number(hPa), s: Number(BigInt(ns) / 1_000_000_000n) }
      })
    const mark = /name="hold" (\d+)/.exec(page('recordings/lines-leak.lp'))!
    const begin = Number(BigInt(mark[1]) / 1_000_000_000n)
    const mean = (from: number) => {
      const rows = hold.filter(({ s }) => s >= begin + from && s < begin + from + 30)
      const of = (key: 'p' | 'c' | 'hPa') => rows.reduce((sum, row) => sum + row[key], 0) / rows.length
      const outside = of('hPa') * 100
      const absolute = of('p') * 6894.757293 + outside
      return { psi: of('p'), c: of('c'), outside, absolute, perK: absolute / (of('c') + 273.15) }
    }
    const [start, end] = [mean(0), mean(570)]
    const share = Math.log(start.perK / end.perK)
    const middle = (start.absolute + end.absolute) / 2
    const fall = ((share * 600) / 570) * middle
    const outside = (start.outside + end.outside) / 2
    const tested = 68_947.57 + outside
    const more = (tested ** 2 - outside ** 2) / (middle ** 2 - outside ** 2)
    const shown = [
      ...[start, end].flatMap(({ psi, c, absolute, perK }) => [
        psi.toFixed(4),
        c.toFixed(3),
        Math.round(absolute).toLocaleString('en'),
        perK.toFixed(3),
      ]),
      ...[
        (100 * share).toFixed(4),
        ((100 * share * 600) / 570).toFixed(4),
        Math.round(fall).toLocaleString('en'),
      ],
      ...[
        more.toFixed(4),
        Math.round(fall * more).toLocaleString('en'),
        ((fall * more) / 6894.757).toFixed(3),
      ],
    ]
    const text = page('docs/method.md')
    expect(shown.filter((each) => !text.includes(each))).toEqual([])
  })

  it('newProgram(version) is called stillhold, as every document writes it', () => {
    expect(newProgram('1').name()).toBe('stillhold')
  })
})
