import { join } from 'node:path'
import { describe, expect, it } from 'vitest'
import { indexVersion, migrateIndex } from '#dashboard/archive/store/migrations.ts'
import { openSqlite } from '#dashboard/archive/store/open-sqlite.ts'
import { openRecordIndex } from '#dashboard/archive/store/record-index.ts'
import { archiveIn, emptyFolder, holdDraft } from '../bench-archive.ts'

/** Sealed texts as an archive wrote them. */
function sealedTexts(): { id: string; sequence: number; text: string }[] {
  const archive = archiveIn(emptyFolder())
  const draft = holdDraft(null)
  const records = [draft, { ...draft, result: { ...draft.result, verdict: 'fail' } }].map((each) =>
    archive.seal(each),
  )
  return records.map(({ id, sequence }) => ({ id, sequence, text: archive.getText(id) }))
}

/** An index as the program of that version left it, with the same two records. */
function indexOfVersion(version: number, path: string): void {
  const database = openSqlite(path)
  migrateIndex(database, version)
  for (const { id, sequence, text } of version === 0 ? [] : sealedTexts()) {
    if (version === 1) {
      database.prepare('INSERT INTO record VALUES (?, ?, ?, ?)').run(sequence, id, 'hash', text)
    } else {
      database
        .prepare('INSERT INTO record (chain, sequence, id, sha256, text) VALUES (?, ?, ?, ?, ?)')
        .run('', sequence, id, 'hash', text)
    }
  }
  expect(database.pragma('user_version')).toBe(version)
  database.close()
}

describe('migrateIndex', () => {
  for (let version = 1; version <= indexVersion; version++) {
    it(`an index of version ${version} opens with its records`, () => {
      const path = join(emptyFolder(), 'index.sqlite')
      indexOfVersion(version, path)
      const index = openRecordIndex(path)
      expect(index.replaced).toBeNull()
      expect(index.chain('').map((row) => row.sequence)).toEqual([1, 2])
      expect(index.chain('').at(-1)?.text).toContain('"verdict":"fail"')
      index.close()
    })
  }

  it('an empty file becomes an index of the newest version', () => {
    const path = join(emptyFolder(), 'index.sqlite')
    indexOfVersion(0, path)
    const index = openRecordIndex(path)
    expect(index.chain('')).toEqual([])
    index.close()
  })

  it('an index of a newer program is set aside and made anew, never written by the older', () => {
    const path = join(emptyFolder(), 'index.sqlite')
    indexOfVersion(indexVersion, path)
    const database = openSqlite(path)
    database.exec(`PRAGMA user_version = ${indexVersion + 1}`)
    database.close()
    const index = openRecordIndex(path)
    expect(index.replaced).toBe('a newer program wrote it')
    expect(index.chain('')).toEqual([])
    index.close()
    const aside = openSqlite(`${path}.damaged`)
    expect(aside.pragma('user_version')).toBe(indexVersion + 1)
    aside.close()
  })
})
