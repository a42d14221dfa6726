import { readFileSync } from 'node:fs'
import { posix } from 'node:path'
import { describe, expect, it } from 'vitest'
import { codeOf, importsOf, root, type SourceFile, sources } from './source-files.ts'

const below = (...folders: readonly string[]) =>
  sources.filter(({ path }) => folders.some((folder) => path.startsWith(`${folder}/`)))

/** Where an import leads: a path of ours from the project's folder, or the name of a package. */
function target(file: SourceFile, from: string): string {
  if (from.startsWith('#')) return from.slice(1)
  if (from.startsWith('.')) return posix.join(posix.dirname(file.path), from)
  return from
}

/** `file imports target` for each import that the rule forbids. */
function broken(files: readonly SourceFile[], forbids: (to: string, isType: boolean) => boolean): string[] {
  return files.flatMap((file) =>
    importsOf(file.text)
      .filter(({ from, isType }) => forbids(target(file, from), isType))
      .map(({ from }) => `${file.path} imports ${from}`),
  )
}

/** What the page computes itself: a number shown must be in its unit, and be the one that the analysis reads. */
const pageTakes = [
  'analysis/physics/units.ts',
  'analysis/physics/unit-table.ts',
  'analysis/reasons/phrase.ts',
  'analysis/reasons/bench-words.ts',
  'analysis/reasons/figures.ts',
  'analysis/reasons/hold-cautions.ts',
  'analysis/reasons/language.ts',
  'analysis/signal/calibrated-readings.ts',
]

/** The rooms of analysis from the lowest up: each imports only from itself and from those before it. */
const floors = [
  'model',
  'numeric',
  'physics',
  'reasons',
  'signal',
  'stages',
  'fit',
  'faults',
  'hunt',
  'proof',
  'verdict',
  'plan',
  'fuel-work',
]

/** Circles of a graph, each as the files on it: strongly connected groups of more than one (Tarjan). */
function circlesIn(graph: ReadonlyMap<string, readonly string[]>): string[][] {
  const circles: string[][] = []
  const order = new Map<string, number>()
  const lowest = new Map<string, number>()
  const open: string[] = []
  const visit = (node: string): void => {
    order.set(node, order.size)
    lowest.set(node, order.get(node)!)
    open.push(node)
    for (const next of graph.get(node) ?? []) {
      if (!graph.has(next)) continue
      if (!order.has(next)) visit(next)
      if (open.includes(next)) lowest.set(node, Math.min(lowest.get(node)!, lowest.get(next)!))
    }
    if (lowest.get(node) !== order.get(node)) return
    const group = open.splice(open.indexOf(node))
    if (group.length > 1) circles.push(group.sort())
  }
  for (const node of graph.keys()) if (!order.has(node)) visit(node)
  return circles
}

const inside = (to: string, ...folders: readonly string[]) =>
  folders.some((folder) => to.startsWith(`${folder}/`))

describe('layers: analysis <- ingest <- dashboard, never back', () => {
  it('there is something to look at in every layer', () => {
    for (const folder of ['analysis', 'ingest', 'dashboard']) expect(below(folder).length).toBeGreaterThan(50)
    expect(broken(below('dashboard'), (to) => inside(to, 'analysis')).length).toBeGreaterThan(50)
  })

  it('analysis imports nothing but itself and simple-statistics', () => {
    expect(broken(below('analysis'), (to) => !inside(to, 'analysis') && to !== 'simple-statistics')).toEqual(
      [],
    )
  })

  it('no room of analysis imports from a room above it', () => {
    const floorOf = (path: string) => floors.indexOf(path.split('/')[1])
    expect(below('analysis').filter(({ path }) => floorOf(path) < 0)).toEqual([])
    const climbing = below('analysis').flatMap((file) =>
      broken([file], (to) => inside(to, 'analysis') && floorOf(to) > floorOf(file.path)),
    )
    expect(climbing).toEqual([])
  })

  it('no file imports itself through others, not even for a type', () => {
    const imports = new Map(
      sources.map((file) => [file.path, importsOf(file.text).map(({ from }) => target(file, from))]),
    )
    expect(circlesIn(imports)).toEqual([])
  })

  it('analysis has no clock, no chance, no waiting, no machine and no page', () => {
    const impure =
      /\bDate\.now\b|\bnew Date\(\)|\bMath\.random\b|\bperformance\b|\basync\b|\bawait\b|\bPromise\b|\bset(?:Timeout|Interval|Immediate)\b|\bqueueMicrotask\b|\bprocess\.|\bglobalThis\b|\bconsole\.|\bdocument\.|\bfetch\(|\bcrypto\b|\btoLocale\w+\(/
    const found = below('analysis').flatMap(({ path, text }) =>
      codeOf(text)
        .split('\n')
        .filter((line) => impure.test(line))
        .map((line) => `${path}: ${line.trim()}`),
    )
    expect(found).toEqual([])
  })

  it('analysis/model is types and the tables beside them: it imports only itself', () => {
    expect(broken(below('analysis/model'), (to, isType) => !isType && !inside(to, 'analysis/model'))).toEqual(
      [],
    )
  })

  it('ingest imports nothing of dashboard', () => {
    expect(broken(below('ingest'), (to) => inside(to, 'dashboard'))).toEqual([])
  })

  it('the archive knows neither server, page, command line nor a port', () => {
    const forbidden = ['dashboard/server', 'dashboard/web', 'dashboard/cli', 'ingest/sources']
    expect(broken(below('dashboard/archive'), (to) => inside(to, ...forbidden))).toEqual([])
  })

  it('the server knows neither page nor command line', () => {
    expect(broken(below('dashboard/server'), (to) => inside(to, 'dashboard/web', 'dashboard/cli'))).toEqual(
      [],
    )
  })

  it('the page takes the model, the units and the calibration; the rest it asks the server', () => {
    expect(
      broken(
        below('dashboard/web'),
        (to, isType) =>
          !isType &&
          !inside(to, 'dashboard/web', 'analysis/model') &&
          !pageTakes.includes(to) &&
          (inside(to, 'analysis', 'ingest', 'dashboard') || to.startsWith('node:')),
      ),
    ).toEqual([])
  })
})

describe('one place names each library that could be replaced', () => {
  const fences: ReadonlyArray<readonly [RegExp, ...string[]]> = [
    [/^(serialport$|@serialport\/)/, 'ingest/sources/serial-port.ts'],
    [/^(libsql|node:sqlite)/, 'dashboard/archive/store/'],
    [/^pdfkit$/, 'dashboard/archive/page/sheet.ts'],
    [/^canonicalize$/, 'dashboard/archive/canonical-text.ts'],
    [/^(hono$|hono\/|@hono\/)/, 'dashboard/server/'],
    [/^yaml$/, 'ingest/system-file/', 'dashboard/cli/sheet-command.ts'],
    [/^commander$/, 'dashboard/cli/'],
    [/^picocolors$/, 'dashboard/cli/terminal.ts'],
    [/^uqr$/, 'dashboard/cli/serve.ts'],
    [/^(preact$|preact\/|@preact\/)/, 'dashboard/web/'],
    [/^uplot$|^uplot\//, 'dashboard/web/'],
    [/^@dagrejs\/dagre$/, 'dashboard/web/system/lay-out-system.ts'],
  ]

  it.each(fences.map(([name, ...places]) => ({ name, places })))('$name', ({ name, places }) => {
    const naming = sources.filter(({ text }) => importsOf(text).some(({ from }) => name.test(from)))
    expect(naming.length).toBeGreaterThan(0)
    expect(
      naming.map(({ path }) => path).filter((path) => !places.some((place) => path.startsWith(place))),
    ).toEqual([])
  })

  it('what the build leaves outside of the program is a dependency that an installed package brings along', async () => {
    const manifest = JSON.parse(readFileSync(`${root}/package.json`, 'utf8'))
    const { default: build } = await import('../../vite.config.ts')
    expect(build.ssr?.noExternal).toBe(true)
    expect(build.ssr?.external).toEqual(
      Object.keys({ ...manifest.dependencies, ...manifest.optionalDependencies }).sort(),
    )
  })
})
