import { existsSync, readdirSync, readFileSync, writeFileSync } from 'node:fs'
import { join } from 'node:path'
import { describe, expect, it } from 'vitest'
import { indexVersion } from '#dashboard/archive/store/migrations.ts'
import { openSqlite, SqliteError } from '#dashboard/archive/store/open-sqlite.ts'
import { indexedRecords, openRecordIndex, readRecordIndex } from '#dashboard/archive/store/record-index.ts'
import { emptyFolder } from '#tests/empty-folder.ts'

const row = (id: string, sequence = 1, chain = '') => ({
  chain,
  sequence,
  id,
  sha256: `hash of ${id}`,
  text: `{"a":"${id}"}`,
})

/** An index with one record, closed. */
function indexFile(): string {
  const path = join(emptyFolder(), 'index.sqlite')
  const index = openRecordIndex(path)
  index.put(row('a'))
  index.close()
  return path
}

describe('openSqlite()', () => {
  const codeOf = (work: () => unknown): unknown => {
    try {
      work()
    } catch (error) {
      expect(error).toBeInstanceOf(SqliteError)
      return (error as SqliteError).code
    }
    return null
  }
  it.each([
    [1, 'ERROR'],
    [5, 'BUSY'],
    [11, 'CORRUPT'],
    [14, 'CANTOPEN'],
    [17, 'SCHEMA'],
    [19, 'CONSTRAINT'],
    [20, 'MISMATCH'],
    [26, 'NOTADB'],
    // Extended codes: BUSY_SNAPSHOT, CONSTRAINT_UNIQUE; 13 is FULL, which the archive does not distinguish.
    [517, 'BUSY'],
    [2067, 'CONSTRAINT'],
    [13, '13'],
  ])('names result code %i SQLITE_%s (sqlite.org/rescode.html)', (code, name) =>
    expect(new SqliteError(code, new Error('why'))).toMatchObject({ code: `SQLITE_${name}`, message: 'why' }),
  )
  it('reports what SQLite refuses under its code, wherever it refuses it', () => {
    const folder = emptyFolder()
    const path = join(folder, 'a')
    const database = openSqlite(path)
    database.exec('CREATE TABLE t (n INTEGER PRIMARY KEY, x TEXT NOT NULL)')
    const put = database.prepare('INSERT INTO t VALUES (?, ?)')
    put.run(1, 'one')
    expect(codeOf(() => database.exec('nonsense'))).toBe('SQLITE_ERROR')
    expect(codeOf(() => database.prepare('SELECT * FROM missing'))).toBe('SQLITE_ERROR')
    expect(codeOf(() => put.run(1, 'again'))).toBe('SQLITE_CONSTRAINT')
    expect(codeOf(() => put.run(2, null))).toBe('SQLITE_CONSTRAINT')
    expect(codeOf(() => put.run('two', 'two'))).toBe('SQLITE_MISMATCH')
    expect(codeOf(() => openSqlite(join(folder, 'missing', 'a')))).toBe('SQLITE_CANTOPEN')
    database.exec('BEGIN EXCLUSIVE')
    const second = openSqlite(path)
    expect(codeOf(() => second.exec('BEGIN EXCLUSIVE'))).toBe('SQLITE_BUSY')
    second.close()
    database.close()
    writeFileSync(join(folder, 'noise'), 'no database at all '.repeat(99))
    const noise = openSqlite(join(folder, 'noise'))
    expect(codeOf(() => noise.prepare('SELECT * FROM t').all())).toBe('SQLITE_NOTADB')
    noise.close()
  })
  it('gives rows, none as null, pragmas by name, and undoes a transaction that throws', () => {
    const database = openSqlite(':memory:')
    database.exec('CREATE TABLE t (n INTEGER, x TEXT)')
    const put = database.prepare('INSERT INTO t VALUES (?, ?)')
    const all = () =>
      database
        .prepare('SELECT n, x FROM t ORDER BY n')
        .all()
        .map(({ n, x }) => [n, x])
    database.transaction(() => put.run(1, null))
    const failing = () => {
      put.run(2, 'two')
      throw new TypeError('half done')
    }
    expect(() => database.transaction(failing)).toThrow(new TypeError('half done'))
    expect(all()).toEqual([[1, null]])
    const rolledBack = () => {
      database.exec('ROLLBACK')
      throw new TypeError('rolled back')
    }
    expect(() => database.transaction(rolledBack)).toThrow(new TypeError('rolled back'))
    database.transaction(() => put.run(3, 'three'))
    expect(all()).toEqual([
      [1, null],
      [3, 'three'],
    ])
    const one = database.prepare('SELECT x FROM t WHERE n = ?')
    expect([one.get(3)?.x, one.get(4)]).toEqual(['three', null])
    expect(database.pragma('user_version')).toBe(0)
    expect(database.pragma('integrity_check(1)')).toBe('ok')
    database.close()
    expect(() => database.close()).not.toThrow()
  })
})

describe('the index of records', () => {
  it('keeps records of each chain in the order of their numbers, one of a name, and forgets what is removed', () => {
    const index = openRecordIndex(null)
    for (const each of [row('b', 10), row('a', 9), row('c', 1, 'ff'), row('d', 1, 'ee')]) index.put(each)
    index.put({ ...row('a', 11), sha256: 'other', text: '{}' })
    index.putGist('', 'a', 'first')
    index.putGist('', 'a', 'gist of a')
    index.putGist('ff', 'c', 'gist of c')
    expect(index.chains()).toEqual(['', 'ee', 'ff'])
    expect(index.chain('')).toEqual([row('b', 10), { ...row('a', 11), sha256: 'other', text: '{}' }])
    expect([index.get('ff', 'c'), index.get('', 'c')]).toEqual([row('c', 1, 'ff'), null])
    expect(index.gists().sort()).toEqual(['gist of a', 'gist of c'])
    index.remove('', 'a')
    expect([index.get('', 'a'), index.get('', 'b')?.id, index.gists()]).toEqual([null, 'b', ['gist of c']])
    index.close()
  })
  it('sets one damaged file aside in place of an earlier one, without what stood beside it', () => {
    const path = indexFile()
    const folder = join(path, '..')
    writeFileSync(`${path}.damaged`, 'an earlier one')
    for (const side of ['-wal', '-journal', '-shm']) writeFileSync(path + side, '')
    writeFileSync(path, 'noise '.repeat(999))
    const index = openRecordIndex(path)
    expect(index.replaced).toMatch(/not a database/)
    expect(index.chains()).toEqual([])
    index.close()
    expect(readdirSync(folder).sort()).toEqual(['index.sqlite', 'index.sqlite.damaged'])
    expect(readFileSync(`${path}.damaged`, 'utf8')).toBe('noise '.repeat(999))
  })
  it('is read beside a running program where that changes nothing: not of another version, damaged, or in use', () => {
    const path = indexFile()
    const read = readRecordIndex(path)
    expect(read?.chain('')).toEqual([row('a')])
    expect(() => read?.put(row('b'))).toThrow(/readonly/)
    read?.close()
    const refused = (change: (at: string) => void) => {
      const at = indexFile()
      change(at)
      const before = readFileSync(at)
      expect(readRecordIndex(at)).toBeNull()
      expect(readFileSync(at)).toEqual(before)
    }
    refused((at) => writeFileSync(`${at}-wal`, ''))
    refused((at) => writeFileSync(`${at}-journal`, ''))
    refused((at) => writeFileSync(at, 'noise '.repeat(999)))
    refused((at) => {
      const database = openSqlite(at)
      database.exec(`PRAGMA user_version = ${indexVersion - 1}`)
      database.close()
    })
    expect(readRecordIndex(join(emptyFolder(), 'missing'))).toBeNull()
  })
  it('indexedRecords() reads a copy, with what a stopped program left beside it', () => {
    const path = indexFile()
    expect(indexedRecords(path)).toEqual([row('a')])
    writeFileSync(`${path}-journal`, 'left behind')
    expect(indexedRecords(path)).toEqual([row('a')])
    expect(existsSync(`${path}-journal`)).toBe(true)
    writeFileSync(path, 'noise '.repeat(999))
    expect(indexedRecords(path)).toEqual([])
    expect(indexedRecords(join(emptyFolder(), 'missing'))).toEqual([])
  })
})
