import { basename, extname } from 'node:path'
import { describe, expect, it } from 'vitest'
import { filesBelow, sources, tests } from './source-files.ts'

const documents = [
  ...filesBelow('docs', '.md', '.py', '.ino', '.h', '.service', '.plist', '.yaml'),
  ...filesBelow('recordings', '.md', '.yaml', '.json'),
  ...filesBelow('dashboard', '.css', '.html'),
]
const everything = [...sources, ...tests, ...documents]

/** `path: line` for each line that matches. */
const lines = (files: typeof everything, pattern: RegExp) =>
  files.flatMap(({ path, text }) =>
    text
      .split('\n')
      .filter((line) => pattern.test(line))
      .map((line) => `${path}: ${line.trim().slice(0, 160)}`),
  )

describe('names', () => {
  it('every source file is in kebab case', () => {
    const stems = [...sources, ...tests]
      .map(({ path }) => path)
      .filter((path) => !path.includes('/sketch-host/'))
    expect(
      stems.filter(
        (path) =>
          !/^[a-z0-9]+(-[a-z0-9]+)*(\.(test|campaign\.test|bench|config|d))?$/.test(
            basename(path, extname(path)),
          ),
      ),
    ).toEqual([])
  })

  it('no file is a drawer for odds and ends', () => {
    const drawer = /(^|[-/.])(util|utils|utilities|helper|helpers|common|misc|shared|stuff|lib)([-/.]|$)/
    expect(everything.map(({ path }) => path).filter((path) => drawer.test(path))).toEqual([])
  })

  it('nothing is left to do, switched off or run alone', () => {
    const left = /\b(TODO|FIXME|XXX|HACK)\b|\b(it|test|describe)\.only\(/
    const others = everything.filter(({ path }) => path !== 'tests/house/names.test.ts')
    expect(lines(others, left)).toEqual([])
    expect(
      lines(sources, /\bdebugger\b|console\.log\(/).filter((line) => !line.includes('write-demo-recordings')),
    ).toEqual([])
  })

  it('no path of the machine it was written on, and no host of a package registry', () => {
    const machine = /(^|[\s'"`(=])\/(work|root|home\/\w+|Users\/\w+)\//
    const registry = /registry\.[a-z]+js\.org|npmmirror|deb\.debian\.org/
    const others = everything.filter(({ path }) => path !== 'tests/house/names.test.ts')
    expect(lines(others, machine)).toEqual([])
    expect(lines(others, registry)).toEqual([])
  })

  it('a number of physics says its unit: no pressure, temperature or volume without one', () => {
    const bare =
      /\b(?:readonly )?(?!relative)(?:\w*(?:[pP]ressure|[tT]emperature|[vV]olume|[dD]uration))\??: number\b/
    expect(
      lines(
        sources.filter(({ path }) => path.startsWith('analysis/')),
        bare,
      ),
    ).toEqual([])
  })
})
