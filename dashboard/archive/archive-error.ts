export type ArchiveErrorCode =
  | 'in-use'
  | 'not-found'
  | 'no-archive'
  | 'key-missing'
  | 'key-unreadable'
  | 'key-foreign'
  | 'chain-cut'
  | 'bad-record'
  | 'forked-chain'
  | 'target-exists'
  | 'too-large'
  | 'disk'
  | 'no-sqlite'
  | 'no-time-stamp'

/** A fault of the disk, the folder or a file of the archive; the message is one line: what, where, what to do. */
export class ArchiveError extends Error {
  readonly code: ArchiveErrorCode
  readonly path: string

  constructor(code: ArchiveErrorCode, path: string, message: string, cause?: unknown) {
    super(message, cause === undefined ? undefined : { cause })
    this.name = 'ArchiveError'
    this.code = code
    this.path = path
  }
}

const hints: Readonly<Record<string, string>> = {
  ENOSPC: 'the disk is full; free some space and try again',
  EDQUOT: 'the disk quota is used up; free some space and try again',
  EACCES: 'no permission; choose a folder you may write to with --data',
  EPERM: 'no permission; choose a folder you may write to with --data',
  EROFS: 'the disk is read-only; choose another folder with --data',
  ENOENT: 'it does not exist; check the path',
  EEXIST: 'a file has the name of this folder; move it away',
  EISDIR: 'it is a folder; name a file',
  SQLITE_CANTOPEN: 'it cannot be opened; check that it is a file and who owns it',
  ENOTDIR: 'a part of the path is a file; check the path',
  EIO: 'the disk reports an error; copy the archive elsewhere and check the disk',
}

/** Turns an error of the operating system into one line that states what failed, where and what to do. */
export function diskError(operation: string, path: string, cause: unknown): ArchiveError {
  const code = (cause as NodeJS.ErrnoException)?.code ?? ''
  const hint = hints[code] ?? (cause instanceof Error ? cause.message : String(cause))
  return new ArchiveError('disk', path, `cannot ${operation} ${path}: ${hint}`, cause)
}
