import { readFileSync, rmSync, statSync, writeFileSync } from 'node:fs'
import { hostname } from 'node:os'
import { join } from 'node:path'
import { ArchiveError } from '../archive-error.ts'
import { openSqlite, SqliteError } from './open-sqlite.ts'

export interface FolderLock {
  release(): void
}

/**
 * Locks an archive against a second program. The operating system owns the lock (through an exclusive transaction on
 * the empty database `lock`) and releases it when the process ends, however it ends: a lock of a dead process is
 * free, and two programs that start together cannot both get it. `lock.holder` only shows people who has it.
 *
 * No other code may open the file `lock`: on POSIX, closing any handle of it in this process releases the lock.
 *
 * @throws ArchiveError `in-use`, naming the process that has the lock; `disk` when the lock is damaged
 */
export function lockFolder(folder: string, now: Date): FolderLock {
  const holderPath = join(folder, 'lock.holder')
  const lockPath = join(folder, 'lock')
  if (statSync(lockPath, { throwIfNoEntry: false })?.isDirectory()) throw damagedLock(folder, null)
  const database = openSqlite(lockPath, 250)
  try {
    database.exec('BEGIN EXCLUSIVE')
  } catch (cause) {
    database.close()
    const code = cause instanceof SqliteError ? cause.code : ''
    if (code === 'SQLITE_NOTADB') throw damagedLock(folder, cause)
    if (code !== 'SQLITE_BUSY') throw cause
    throw new ArchiveError(
      'in-use',
      folder,
      `archive ${folder} is in use by ${describeHolder(holderPath)}: stop that program or choose another folder with --data`,
      cause,
    )
  }
  const holder = { pid: process.pid, host: hostname(), since: now.toISOString() }
  writeFileSync(holderPath, JSON.stringify(holder))
  return {
    release() {
      rmSync(holderPath, { force: true })
      database.close()
    },
  }
}

function damagedLock(folder: string, cause: unknown): ArchiveError {
  const message = `the lock of the archive, ${join(folder, 'lock')}, is damaged: check that no other stillhold uses the archive, then remove it; it is created again`
  return new ArchiveError('disk', folder, message, cause)
}

function describeHolder(path: string): string {
  try {
    const { pid, host, since } = JSON.parse(readFileSync(path, 'utf8'))
    return `process ${Number(pid)} on ${host} since ${since}`
  } catch {
    return 'another program'
  }
}
