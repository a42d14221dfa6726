import { describe, expect, it } from 'vitest'
import { attacks, documentedRows } from './attack.ts'

describe('npm run attack', () => {
  for (const attack of attacks)
    it(`${attack.name}: refused`, async () => {
      const { tried, wrong } = await attack.run(true)
      expect(wrong).toEqual([])
      expect(tried).toBeGreaterThan(0)
    })

  it('docs/reliability.md has a row for every attack, with none that went wrong', () => {
    const rows = documentedRows()
    expect(rows.map(({ name }) => name)).toEqual(attacks.map(({ name }) => name))
    expect(rows.filter(({ tried, wrong }) => tried === 0 || wrong > 0)).toEqual([])
  })
})
