import { readdirSync, readFileSync, rmSync, utimesSync, writeFileSync } from 'node:fs'
import { join } from 'node:path'
import { describe, expect, it } from 'vitest'
import { ledger } from '#analysis/hunt/ledger.ts'
import type { Archive } from '#dashboard/archive/archive.ts'
import { ArchiveEvidence } from '#dashboard/archive/archive-evidence.ts'
import { openSqlite } from '#dashboard/archive/store/open-sqlite.ts'
import { systemFromFile } from '#ingest/system-file/read-system-file.ts'
import { archiveIn, emptyFolder, holdDraft } from './bench-archive.ts'
import { sealDemoHold } from './sealed-hold.ts'

const reader = (folder: string) => archiveIn(folder, { readOnly: true })
/** Another version of the program trusts no gist: it reads every record file and every recording. */
const readerOfFiles = (folder: string) =>
  archiveIn(folder, { readOnly: true, programVersion: '0.0.0-other-version' })

const said = (archive: Archive) => {
  const { record } = archive.known().at(-1)!
  const system = systemFromFile(record.system.text, 'system file')
  return ledger(system, new ArchiveEvidence().of(archive.known()))
}

/** An archive of three holds with their recordings. */
function sealedFolder(): string {
  const folder = emptyFolder()
  const archive = archiveIn(folder)
  for (const name of ['lines-leak', 'lines-retest', 'lines-proven']) sealDemoHold(archive, name)
  archive.close()
  return folder
}

describe('an archive read through its index', () => {
  it('known(), list() and the ledger equal those read from every file', () => {
    const folder = sealedFolder()
    const [fast, whole] = [reader(folder), readerOfFiles(folder)]
    expect(fast.known().map(({ marks }) => marks === null)).toEqual([false, false, false])
    expect(whole.known().map(({ marks }) => marks)).toEqual([null, null, null])
    const records = (archive: Archive) => archive.kept().map(({ marks: _, ...kept }) => kept)
    expect(records(fast)).toEqual(records(whole))
    expect(fast.list()).toEqual(whole.list())
    expect(said(fast)).toEqual(said(whole))
  })

  it('list() opens no record file and the ledger no recording', () => {
    const folder = sealedFolder()
    const before = said(reader(folder))
    for (const name of readdirSync(join(folder, 'recordings'))) rmSync(join(folder, 'recordings', name))
    const archive = reader(folder)
    expect(said(archive)).toEqual(before)
    expect(archive.notices.join()).toContain('its recording is missing')
  })

  it('an archive that is opened for writing and is whole writes no gist again: its index stays as it is', () => {
    const folder = emptyFolder()
    const archive = archiveIn(folder)
    archive.seal(holdDraft(null))
    archive.close()
    const index = () => readFileSync(join(folder, 'index.sqlite'))
    const before = index()
    archiveIn(folder).close()
    expect(index().equals(before)).toBe(true)
  })

  it('notices a record file that was changed to the same length and given its old time back', () => {
    const folder = sealedFolder()
    const path = join(folder, 'records', readdirSync(join(folder, 'records'))[0])
    const old = new Date('2026-04-11T09:00:00Z')
    utimesSync(path, old, old)
    archiveIn(folder).close()
    const text = readFileSync(path, 'utf8')
    writeFileSync(path, text.replace('"verdict":"fail"', '"verdict":"pass"'))
    utimesSync(path, old, old)
    expect(reader(folder).notices.join()).toMatch(/signature does not hold/)
  })

  it('does not believe a gist that was changed in the index alone', () => {
    const folder = sealedFolder()
    const before = reader(folder).list()
    const database = openSqlite(join(folder, 'index.sqlite'))
    database.exec(`UPDATE gist SET text = replace(text, '"verdict":"fail"', '"verdict":"pass"')`)
    database.close()
    expect(before.map(({ verdict }) => verdict)).toContain('fail')
    expect(reader(folder).list()).toEqual(before)
  })

  it('getText(id) refuses a text that was changed in the index alone', () => {
    const folder = sealedFolder()
    const database = openSqlite(join(folder, 'index.sqlite'))
    database.exec(`UPDATE record SET text = replace(text, '"operator"', '"Operator"') WHERE sequence = 3`)
    database.close()
    expect(() => reader(folder).getText('3')).toThrow(
      '0003-feed-lines-10psi: its text in the index was changed',
    )
  })

  it('sees a record that was added or removed behind the index', () => {
    const folder = sealedFolder()
    const index = readFileSync(join(folder, 'index.sqlite'))
    const archive = archiveIn(folder)
    const { id } = archive.seal(holdDraft(null))
    archive.close()
    writeFileSync(join(folder, 'index.sqlite'), index)
    expect(
      reader(folder)
        .list()
        .some((one) => one.id === id),
    ).toBe(true)
    rmSync(join(folder, 'records', `${id}.json`))
    expect(reader(folder).notices.join()).toContain('1 of 4 records are missing')
  })

  it('an index of version 3 gets its gists when the archive is next opened for writing', () => {
    const folder = sealedFolder()
    const database = openSqlite(join(folder, 'index.sqlite'))
    database.exec(`DROP TABLE gist; CREATE INDEX record_sealed ON record (sealed_at, chain, sequence);
      CREATE INDEX record_verdict ON record (verdict); PRAGMA user_version = 3`)
    database.close()
    const whole = reader(folder)
    expect(whole.known().every(({ marks }) => marks === null)).toBe(true)
    archiveIn(folder).close()
    expect(
      reader(folder)
        .known()
        .every(({ marks }) => marks !== null),
    ).toBe(true)
  })
})
