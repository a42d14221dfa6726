import { copyFileSync, existsSync, rmSync } from 'node:fs'
import { join } from 'node:path'
import { inTemporaryFolder } from '../archive-folder.ts'
import { renamePatiently } from '../write-durably.ts'
import { indexVersion, migrateIndex } from './migrations.ts'
import { openSqlite, type Sqlite, SqliteError } from './open-sqlite.ts'

/** A sealed text in the index. `chain` is '' for the archive's own. */
export interface IndexedRecord {
  readonly chain: string
  readonly sequence: number
  readonly id: string
  readonly sha256: string
  readonly text: string
}

/** A second copy of every sealed text with its gist. The record files remain the source of truth. */
export interface RecordIndex {
  /** Why a damaged index was replaced by a new one; null when it was sound. */
  readonly replaced: string | null
  put(record: IndexedRecord): void
  remove(chain: string, id: string): void
  get(chain: string, id: string): IndexedRecord | null
  /** All of one chain in chain order. */
  chain(chain: string): IndexedRecord[]
  chains(): string[]
  /** @param text what lists and the ledger need of a record; its writer alone reads it */
  putGist(chain: string, id: string, text: string): void
  gists(): string[]
  transaction(work: () => void): void
  close(): void
}

/** Opens the index, or recreates it when it is damaged or of a newer program. `null` keeps it in memory. */
export function openRecordIndex(path: string | null): RecordIndex {
  if (path === null) return wrap(prepare(':memory:'), null)
  const existed = existsSync(path)
  try {
    return wrap(prepare(path), null)
  } catch (cause) {
    if (!existed || !isDamage(cause)) throw cause
    const why = (cause as Error).message
    setAside(path)
    return wrap(prepare(path), why)
  }
}

/** Opens the index of this program's version for reading beside a running program; null when that would write to it. */
export function readRecordIndex(path: string): RecordIndex | null {
  if (!existsSync(path) || sides.some((side) => existsSync(path + side))) return null
  let database: Sqlite | null = null
  try {
    database = openSqlite(path, 1000)
    database.exec('PRAGMA query_only = ON')
    if (database.pragma('user_version') === indexVersion) return wrap(database, null)
  } catch (cause) {
    if (!(cause instanceof SqliteError)) throw cause
  }
  database?.close()
  return null
}

/**
 * Content of an index, read from a copy so that no file beside the archive is touched; empty when it is missing or
 * damaged, because it is then rebuilt from the files.
 */
export function indexedRecords(path: string): IndexedRecord[] {
  if (!existsSync(path)) return []
  return inTemporaryFolder('index', (folder) => {
    try {
      const copy = join(folder, 'index.sqlite')
      for (const side of ['', ...sides]) if (existsSync(path + side)) copyFileSync(path + side, copy + side)
      const database = openSqlite(copy)
      try {
        return database.prepare(`SELECT ${asBytes} FROM record`).all().map(toRecord)
      } finally {
        database.close()
      }
    } catch {
      return []
    }
  })
}

const sides = ['-wal', '-journal'] as const

/** As bytes: libsql ends the process on text that is not UTF-8, which a damaged file may contain. */
const asBytes =
  'CAST(chain AS BLOB) chain, sequence, CAST(id AS BLOB) id, CAST(sha256 AS BLOB) sha256, CAST(text AS BLOB) text'

class UnusableIndex extends Error {}

/**
 * Synchronous = full: a sealed record is on the disk when `put` returns. A rollback journal, because the write-ahead log
 * in libsql's SQLite has a known defect; with one writer and no concurrent reader this costs nothing.
 */
function prepare(path: string): Sqlite {
  const database = openSqlite(path, 1000)
  try {
    database.exec('PRAGMA journal_mode = DELETE')
    database.exec('PRAGMA synchronous = FULL')
    const check = database.pragma('integrity_check(1)')
    if (check !== 'ok') throw new UnusableIndex(`integrity check: ${check}`)
    if (!migrateIndex(database)) throw new UnusableIndex('a newer program wrote it')
    return database
  } catch (cause) {
    database.close()
    throw cause
  }
}

function isDamage(cause: unknown): boolean {
  if (cause instanceof UnusableIndex) return true
  // SQLITE_ERROR: the schema does not match its user_version.
  const damages = /^SQLITE_(CORRUPT|NOTADB|ERROR|CONSTRAINT|SCHEMA|MISMATCH)$/
  return cause instanceof SqliteError && damages.test(cause.code)
}

/** Keeps one generation of a damaged database, with its side files, for inspection. */
function setAside(path: string): void {
  for (const side of [...sides, '-shm']) rmSync(path + side, { force: true })
  rmSync(`${path}.damaged`, { force: true })
  renamePatiently(path, `${path}.damaged`)
}

function wrap(database: Sqlite, replaced: string | null): RecordIndex {
  const columns = 'chain, sequence, id, sha256, text'
  const put = database.prepare(
    `INSERT INTO record (${columns}) VALUES (?, ?, ?, ?, ?)
     ON CONFLICT (chain, id) DO UPDATE SET sequence = excluded.sequence, sha256 = excluded.sha256, text = excluded.text`,
  )
  const removals = ['record', 'gist'].map((table) =>
    database.prepare(`DELETE FROM ${table} WHERE chain = ? AND id = ?`),
  )
  const get = database.prepare(`SELECT ${asBytes} FROM record WHERE chain = ? AND id = ?`)
  const chain = database.prepare(`SELECT ${asBytes} FROM record WHERE chain = ? ORDER BY sequence`)
  const chains = database.prepare(
    'SELECT DISTINCT CAST(chain AS BLOB) chain FROM record ORDER BY record.chain',
  )
  const putGist = database.prepare('INSERT OR REPLACE INTO gist VALUES (?, ?, ?)')
  const gists = database.prepare('SELECT CAST(text AS BLOB) text FROM gist')
  return {
    replaced,
    put: ({ chain: name, sequence, id, sha256, text }) => put.run(name, sequence, id, sha256, text),
    remove: (name, id) => removals.forEach((removal) => void removal.run(name, id)),
    get(name, id) {
      const row = get.get(name, id)
      return row && toRecord(row)
    },
    chain: (name) => chain.all(name).map(toRecord),
    chains: () => chains.all().map((row) => textOf(row.chain)),
    putGist: (name, id, text) => putGist.run(name, id, text),
    gists: () => gists.all().map(({ text }) => textOf(text)),
    transaction: (work) => database.transaction(work),
    close: () => database.close(),
  }
}

function toRecord({ chain, sequence, id, sha256, text }: Record<string, unknown>): IndexedRecord {
  return {
    chain: textOf(chain),
    sequence: Number(sequence),
    id: textOf(id),
    sha256: textOf(sha256),
    text: textOf(text),
  }
}

function textOf(bytes: unknown): string {
  return Buffer.from(bytes as Uint8Array).toString('utf8')
}
