import { readdirSync, readFileSync } from 'node:fs'
import { join } from 'node:path'
import { fileURLToPath } from 'node:url'
import { describe, expect, it } from 'vitest'
import { phrases } from '#analysis/reasons/phrases.ts'
import { archiveIn, emptyFolder, holdDraft } from './bench-archive.ts'

const root = fileURLToPath(new URL('../../../', import.meta.url))
const doc = (name: string) => readFileSync(join(root, 'docs/formats', name), 'utf8')
const sourcesOf = (folder: string) =>
  readdirSync(join(root, folder), { recursive: true, encoding: 'utf8' })
    .filter((name) => name.endsWith('.ts'))
    .map((name) => readFileSync(join(root, folder, name), 'utf8'))

describe('docs/formats', () => {
  it('record.md names every member of a sealed record and no other', () => {
    const archive = archiveIn(emptyFolder())
    const record = archive.seal(holdDraft(null))
    const table = doc('record.md')
      .split('\n')
      .filter((line) => line.startsWith('| `'))
    const named = table.flatMap((line) =>
      [...line.split('|')[1].matchAll(/`(\w+)`/g)].map((match) => match[1]),
    )
    expect(named.sort()).toEqual(Object.keys(record).sort())
  })

  it('result.md names every member of a result', () => {
    const text = doc('result.md')
    for (const member of Object.keys(holdDraft(null).result)) expect(text).toContain(`\`${member}\``)
  })

  it('reason-codes.md has every code that the analysis can give', () => {
    const codes = ['analysis/faults', 'analysis/verdict', 'analysis/hunt'].flatMap((folder) =>
      sourcesOf(folder).flatMap((text) =>
        [...text.matchAll(/\bcode: '([a-z-]+)'/g)].map((match) => match[1]),
      ),
    )
    expect(codes).not.toEqual([])
    codes.push(...Object.keys(phrases))
    const documented = [...doc('reason-codes.md').matchAll(/^\| `([a-z-]+)` \|/gm)].map((match) => match[1])
    expect([...new Set(codes)].filter((code) => !documented.includes(code))).toEqual([])
  })
})
