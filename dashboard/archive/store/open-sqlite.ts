import { createRequire } from 'node:module'
import { ArchiveError } from '../archive-error.ts'

export type SqlValue = string | number | null
type Row = Record<string, unknown>

/** The SQLite interface of the archive. */
export interface Sqlite {
  exec(sql: string): void
  /** Values replace `?`, or `?1` and so on, in their order. */
  prepare(sql: string): Statement
  /** The value of a pragma, such as `user_version`. */
  pragma(name: string): unknown
  /** A transaction: all of `work`, or nothing when it throws. */
  transaction(work: () => void): void
  close(): void
}

export interface Statement {
  run(...values: SqlValue[]): void
  get(...values: SqlValue[]): Row | null
  all(...values: SqlValue[]): Row[]
}

/** An SQLite error; `code` is the name of its primary result code. */
export class SqliteError extends Error {
  override name = 'SqliteError'
  readonly code: string

  constructor(resultCode: number, cause: unknown) {
    super(cause instanceof Error ? cause.message : String(cause), { cause })
    this.code = `SQLITE_${codes[resultCode & 0xff] ?? resultCode}`
  }
}

/** Primary result codes (https://www.sqlite.org/rescode.html) that the archive distinguishes. */
const codes: Readonly<Record<number, string>> = {
  1: 'ERROR',
  5: 'BUSY',
  11: 'CORRUPT',
  14: 'CANTOPEN',
  17: 'SCHEMA',
  19: 'CONSTRAINT',
  20: 'MISMATCH',
  26: 'NOTADB',
}

/** The common interface of both bindings, except for how they take values and report errors. */
interface Connection {
  exec(sql: string): unknown
  prepare(sql: string): Record<'run' | 'get' | 'all', (...values: unknown[]) => unknown>
  close(): void
}

interface Binding {
  open(path: string): Connection
  values(values: readonly SqlValue[]): unknown[]
  /** SQLite's result code of an error; null for any other error. */
  resultCode(error: unknown): number | null
}

let binding: Binding | null = null

/**
 * Opens an SQLite database: with Node's own SQLite where available, else with libsql, which is precompiled.
 *
 * @param waitMs how long to wait for another program's lock
 * @throws ArchiveError when neither is available, and SqliteError
 */
export function openSqlite(path: string, waitMs = 0): Sqlite {
  binding ??= load()
  const { open, values, resultCode } = binding
  const withCode = <T>(work: () => T): T => {
    try {
      return work()
    } catch (error) {
      const code = resultCode(error)
      throw code === null ? error : new SqliteError(code, error)
    }
  }
  const connection = withCode(() => open(path))
  let isOpen = true
  const exec = (sql: string) => void withCode(() => connection.exec(sql))
  const prepare = (sql: string): Statement => {
    const statement = withCode(() => connection.prepare(sql))
    return {
      run: (...given) => void withCode(() => statement.run(...values(given))),
      get: (...given) => withCode(() => (statement.get(...values(given)) as Row | undefined) ?? null),
      all: (...given) => withCode(() => statement.all(...values(given)) as Row[]),
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
        // SQLite may already have rolled back, as on a full disk.
        try {
          exec('ROLLBACK')
        } catch {}
        throw error
      }
    },
    close() {
      if (isOpen) withCode(() => connection.close())
      isOpen = false
    },
  }
}

function load(): Binding {
  const require = createRequire(import.meta.url)
  const [major = 0, minor = 0] = process.versions.node.split('.').map(Number)
  // From 22.13 on it needs no flag.
  if (major > 22 || (major === 22 && minor >= 13)) return nodeBinding(require)
  try {
    return libsqlBinding(require)
  } catch (cause) {
    throw new ArchiveError(
      'no-sqlite',
      'libsql',
      `SQLite is not installed for Node ${process.versions.node}: install Node 22.13 or later, or install the program again and check what npm reports on libsql`,
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
    // As an array: libsql takes a single null for named values.
    values: (values) => [[...values]],
    resultCode(error) {
      const { rawCode, message } = error as { rawCode?: number; message?: string }
      if (typeof rawCode === 'number') return rawCode
      const opening = /^ConnectionFailed\(.*: (\d+)"\)$/.exec(message ?? '')
      return opening === null ? null : Number(opening[1])
    },
  }
}

/** Node calls its SQLite experimental on standard error; the features in use give the same results as in libsql. */
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
