import { createRequire } from 'node:module'
import { ArchiveError } from '../archive-error.ts'

export type SqlValue = string | number | null
type Row = Record<string, unknown>

/** What the archive asks of SQLite. */
export interface Sqlite {
  exec(sql: string): void
  /** Values stand for `?`, or `?1` and so on, in their order. */
  prepare(sql: string): Statement
  /** The value of a pragma, such as `user_version`. */
  pragma(name: string): unknown
  /** All that `work` does, or nothing when it throws. */
  transaction(work: () => void): void
  close(): void
}

export interface Statement {
  run(...values: SqlValue[]): void
  get(...values: SqlValue[]): Row | null
  all(...values: SqlValue[]): Row[]
}

/** SQLite refused; `code` is the name of its primary result code. */
export class SqliteError extends Error {
  override name = 'SqliteError'
  readonly code: string

  constructor(resultCode: number, cause: unknown) {
    super(cause instanceof Error ? cause.message : String(cause), { cause })
    this.code = `SQLITE_${codes[resultCode & 0xff] ?? resultCode}`
  }
}

/** Primary result codes (https://www.sqlite.org/rescode.html) that the archive tells apart. */
const codes: Readonly<Record<number, string>> = {
  1: 'ERROR',
  5: 'BUSY',
  8: 'READONLY',
  10: 'IOERR',
  11: 'CORRUPT',
  13: 'FULL',
  14: 'CANTOPEN',
  17: 'SCHEMA',
  19: 'CONSTRAINT',
  20: 'MISMATCH',
  26: 'NOTADB',
}

/** A database as both bindings have it, but for how they take values and tell errors. */
interface Connection {
  exec(sql: string): unknown
  prepare(sql: string): Record<'run' | 'get' | 'all', (...values: unknown[]) => unknown>
  close(): void
}

interface Binding {
  open(path: string): Connection
  values(values: readonly SqlValue[]): unknown[]
  /** SQLite's result code in an error; null when it is no error of SQLite's. */
  resultCode(error: unknown): number | null
}

let binding: Binding | null = null

/**
 * Opens an SQLite database: with Node's own SQLite where it has one, else with libsql, which comes compiled.
 *
 * @param waitMs how long a lock of another program is waited for
 * @throws ArchiveError when there is neither, and SqliteError
 */
export function openSqlite(path: string, waitMs = 0): Sqlite {
  binding ??= load()
  const { open, values, resultCode } = binding
  const told = <T>(work: () => T): T => {
    try {
      return work()
    } catch (error) {
      const code = resultCode(error)
      throw code === null ? error : new SqliteError(code, error)
    }
  }
  const connection = told(() => open(path))
  let isOpen = true
  const exec = (sql: string) => void told(() => connection.exec(sql))
  const prepare = (sql: string): Statement => {
    const statement = told(() => connection.prepare(sql))
    return {
      run: (...given) => void told(() => statement.run(...values(given))),
      get: (...given) => told(() => (statement.get(...values(given)) as Row | undefined) ?? null),
      all: (...given) => told(() => statement.all(...values(given)) as Row[]),
    }
  }
  exec(`PRAGMA busy_timeout = ${waitMs}`)
  return {
    exec,
    prepare,
    pragma: (name) => prepare(`PRAGMA ${name}`).get()?.[name.replace(/\(.*/, '')],
    transaction(work) {
      exec('BEGIN')
      try {
        work()
        exec('COMMIT')
      } catch (error) {
        // SQLite may have ended the transaction by itself, as on a full disk.
        try {
          exec('ROLLBACK')
        } catch {}
        throw error
      }
    },
    close() {
      if (isOpen) told(() => connection.close())
      isOpen = false
    },
  }
}

function load(): Binding {
  const require = createRequire(import.meta.url)
  const [major, minor] = process.versions.node.split('.').map(Number)
  // From 22.13 on it needs no flag.
  if (major > 22 || (major === 22 && minor >= 13)) return nodeBinding(require)
  try {
    return libsqlBinding(require)
  } catch (cause) {
    throw new ArchiveError(
      'no-sqlite',
      'libsql',
      `SQLite is not installed for Node ${process.versions.node}: take Node 22.13 or later, or install the program again and see what npm says of libsql`,
      cause,
    )
  }
}

function nodeBinding(require: NodeJS.Require): Binding {
  const { DatabaseSync } = withoutExperimentalWarning(() => require('node:sqlite')) as {
    DatabaseSync: new (path: string) => Connection
  }
  return {
    open: (path) => new DatabaseSync(path),
    values: (values) => [...values],
    resultCode: (error) => (error as { errcode?: number }).errcode ?? null,
  }
}

function libsqlBinding(require: NodeJS.Require): Binding {
  const Database = require('libsql') as new (path: string) => Connection
  return {
    open: (path) => new Database(path),
    // As one list: it takes a single null for named values.
    values: (values) => [[...values]],
    resultCode(error) {
      const { rawCode, message } = error as { rawCode?: number; message?: string }
      if (typeof rawCode === 'number') return rawCode
      const opening = /^ConnectionFailed\(.*: (\d+)"\)$/.exec(message ?? '')
      return opening === null ? null : Number(opening[1])
    },
  }
}

/** Node calls its SQLite experimental on standard error; what is used of it has the same results as libsql's. */
function withoutExperimentalWarning<T>(work: () => T): T {
  const { emitWarning } = process
  process.emitWarning = ((...given: Parameters<typeof emitWarning>) => {
    if (!String(given[0]).includes('SQLite')) emitWarning.apply(process, given)
  }) as typeof emitWarning
  try {
    return work()
  } finally {
    process.emitWarning = emitWarning
  }
}
