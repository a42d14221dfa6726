import { copyFileSync, existsSync, mkdtempSync, rmSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import type Database from 'better-sqlite3'
import { renamePatiently } from '../rename-patiently.ts'
import { migrateIndex } from './migrations.ts'
import { openSqlite } from './open-sqlite.ts'

/** A sealed text as the index holds it. `chain` is '' for the archive's own. */
export interface IndexedRecord {
  readonly chain: string
  readonly sequence: number
  readonly id: string
  readonly sha256: string
  readonly text: string
}

export interface IndexFilter {
  readonly kind?: string
  readonly verdict?: string
}

/** A second copy of every sealed text, quick to search. The record files stay the source of truth. */
export interface RecordIndex {
  /** Why an index found on the disk was set aside and made anew; null when it was sound. */
  readonly replaced: string | null
  put(record: IndexedRecord): void
  remove(chain: string, id: string): void
  get(chain: string, id: string): IndexedRecord | null
  /** All of one chain in its order. */
  chain(chain: string): IndexedRecord[]
  chains(): string[]
  /** Newest first, over all chains. */
  newestFirst(filter: IndexFilter): IndexedRecord[]
  last(chain: string): IndexedRecord | null
  transaction(work: () => void): void
  copyTo(path: string): void
  close(): void
}

/** Opens the index, or makes it anew when it is damaged or of a newer program. `null` keeps it in memory. */
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

/**
 * What an index knows, read from a copy so that nothing beside the archive is touched; empty when there is none or it is
 * damaged, for it is made anew then and the files are the truth.
 */
export function indexedIds(path: string): { chain: string; id: string }[] {
  if (!existsSync(path)) return []
  const folder = mkdtempSync(join(tmpdir(), 'stillhold-index-'))
  try {
    const copy = join(folder, 'index.sqlite')
    for (const side of ['', '-wal']) if (existsSync(path + side)) copyFileSync(path + side, copy + side)
    const database = openSqlite(copy)
    try {
      return database.prepare('SELECT chain, id FROM record').all() as { chain: string; id: string }[]
    } finally {
      database.close()
    }
  } catch {
    return []
  } finally {
    rmSync(folder, { recursive: true, force: true })
  }
}

class UnusableIndex extends Error {}

/** Synchronous = full: a sealed record is on the disk when `put` returns. One writer, so a short wait is a mistake. */
function prepare(path: string): Database.Database {
  const database = openSqlite(path, { timeout: 1000 })
  try {
    database.pragma('journal_mode = WAL')
    database.pragma('synchronous = FULL')
    const check = database.pragma('integrity_check(1)', { simple: true })
    if (check !== 'ok') throw new UnusableIndex(`integrity check: ${check}`)
    if (!migrateIndex(database)) throw new UnusableIndex('it is of a newer program')
    return database
  } catch (cause) {
    database.close()
    throw cause
  }
}

function isDamage(cause: unknown): boolean {
  if (cause instanceof UnusableIndex) return true
  const code = (cause as { code?: unknown }).code
  // SQLITE_ERROR: the schema is not the one its user_version promises.
  return typeof code === 'string' && /^SQLITE_(CORRUPT|NOTADB|ERROR|CONSTRAINT|SCHEMA|MISMATCH)/.test(code)
}

/** A damaged database is kept for whoever wants to look, one generation, with its side files out of the way. */
function setAside(path: string): void {
  for (const side of ['-wal', '-shm']) rmSync(path + side, { force: true })
  rmSync(`${path}.damaged`, { force: true })
  renamePatiently(path, `${path}.damaged`)
}

function wrap(database: Database.Database, replaced: string | null): RecordIndex {
  const columns = 'chain, sequence, id, sha256, text'
  const put = database.prepare(
    `INSERT INTO record (${columns}) VALUES (@chain, @sequence, @id, @sha256, @text)
     ON CONFLICT (chain, id) DO UPDATE SET sequence = excluded.sequence, sha256 = excluded.sha256, text = excluded.text`,
  )
  const remove = database.prepare('DELETE FROM record WHERE chain = ? AND id = ?')
  const get = database.prepare(`SELECT ${columns} FROM record WHERE chain = ? AND id = ?`)
  const chain = database.prepare(`SELECT ${columns} FROM record WHERE chain = ? ORDER BY sequence`)
  const chains = database.prepare('SELECT DISTINCT chain FROM record ORDER BY chain').pluck()
  const newest = database.prepare(
    `SELECT ${columns} FROM record WHERE (@kind IS NULL OR kind = @kind) AND (@verdict IS NULL OR verdict = @verdict)
     ORDER BY sealed_at DESC, chain DESC, sequence DESC`,
  )
  const last = database.prepare(
    `SELECT ${columns} FROM record WHERE chain = ? ORDER BY sequence DESC LIMIT 1`,
  )
  return {
    replaced,
    put: (record) => void put.run(record),
    remove: (name, id) => void remove.run(name, id),
    get: (name, id) => (get.get(name, id) as IndexedRecord | undefined) ?? null,
    chain: (name) => chain.all(name) as IndexedRecord[],
    chains: () => chains.all() as string[],
    newestFirst: ({ kind = null, verdict = null }: { kind?: string | null; verdict?: string | null }) =>
      newest.all({ kind, verdict }) as IndexedRecord[],
    last: (name) => (last.get(name) as IndexedRecord | undefined) ?? null,
    transaction: (work) => database.transaction(work)(),
    copyTo: (path) => void database.prepare('VACUUM INTO ?').run(path),
    close: () => void database.close(),
  }
}
