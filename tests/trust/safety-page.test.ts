import { readFileSync } from 'node:fs'
import { describe, expect, it } from 'vitest'
import { namedTests } from './named-tests.ts'

describe.each(['docs/false-passes.md', 'docs/reliability.md'])('%s', (page) => {
  it('names tests, and every one of them exists', () => {
    const named = namedTests(page)
    expect(named.length).toBeGreaterThan(15)
    expect(named.flatMap(({ wrong }) => wrong ?? [])).toEqual([])
  })

  it('names a test in every row of its tables of ways and faults', () => {
    const text = readFileSync(new URL(`../../${page}`, import.meta.url), 'utf8')
    const tables = text.split('\n\n').filter((block) => /^\| (Way|Fault) /.test(block))
    const bare = tables
      .flatMap((block) => block.split('\n').slice(2))
      .filter((row) => row !== '' && !/`tests\//.test(row))
    expect(bare).toEqual([])
  })
})
