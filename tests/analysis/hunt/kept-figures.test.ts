import { readFileSync } from 'node:fs'
import { describe, expect, it } from 'vitest'
import { kept } from '#tests/kept-figures.ts'
import { huntCases } from './hunt-cases.ts'

/**
 * No source gives most figures of the hunt: they are our own, and a test of what follows from them bears a third more or less.
 * So a figure that moves is a decision: `npm run docs` writes the file again, and the difference shows what it moved.
 */
const file = JSON.parse(readFileSync(new URL('kept-figures.json', import.meta.url), 'utf8'))

describe('hunt() and ledger() of kept cases say what kept-figures.json keeps, to five digits', () => {
  it('of each case of the file', () => {
    expect([...huntCases.keys()]).toEqual(Object.keys(file))
  })
  it.each([...huntCases])('%s', (name, said) => {
    expect(kept(said())).toEqual(file[name])
  })
})
