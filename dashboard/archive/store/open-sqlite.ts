import { createRequire } from 'node:module'
import type Database from 'better-sqlite3'
import { ArchiveError } from '../archive-error.ts'

type Sqlite = typeof Database

let sqlite: Sqlite | null = null

/**
 * Opens an SQLite database through the binding that this Node can run.
 *
 * better-sqlite3 13 is built on Node-API 10: it comes compiled for the three systems, and crashes on Node 20. Its version 12
 * runs on Node 20, and from Node 24.19 on it aborts the process at a garbage collection.
 *
 * @throws ArchiveError when npm could install neither, and SQLite's own errors
 */
export function openSqlite(path: string, options?: Database.Options): Database.Database {
  sqlite ??= load()
  return new sqlite(path, options)
}

function load(): Sqlite {
  const name = Number(process.versions.napi) >= 10 ? 'better-sqlite3-node-api' : 'better-sqlite3'
  try {
    return createRequire(import.meta.url)(name) as Sqlite
  } catch (cause) {
    throw new ArchiveError(
      'no-sqlite',
      name,
      `SQLite is not installed for Node ${process.versions.node}: install the program again with this Node, and see what npm says of ${name}`,
      cause,
    )
  }
}
