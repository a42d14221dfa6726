import { readFileSync } from 'node:fs'
import { join } from 'node:path'
import { describe, expect, it } from 'vitest'
import { glossaryOf } from '#dashboard/web/parts/term.tsx'
import { root, sources } from '#tests/house/source-files.ts'

const glossary = glossaryOf(readFileSync(join(root, 'docs/glossary.md'), 'utf8'))

describe('glossaryOf(page)', () => {
  it('reads each row of docs/glossary.md, one meaning a term', () => {
    expect(glossary.size).toBeGreaterThan(20)
    expect(glossary.get('stale')).toBe('proven once, but worked on since')
  })
  it('knows every term that has a `?` on the page, and those a volunteer does not know have one (issue: Words)', () => {
    const asked = sources.flatMap(({ text }) => [...text.matchAll(/<Term of="([^"]+)"/g)].map(([, of]) => of))
    expect(asked.filter((of) => !glossary.has(of))).toEqual([])
    expect(asked).toEqual(
      expect.arrayContaining([
        'scc/min',
        'allowance',
        'compensated',
        '95 % interval',
        'rig',
        'stale',
        'seal',
        'ledger',
        'line protocol',
      ]),
    )
  })
})
