export type RecordingFaultCode =
  | 'disk-full'
  | 'read-only'
  | 'no-permission'
  | 'no-folder'
  | 'not-a-recording'
  | 'failed'

export type RecordingOperation = 'open' | 'recover' | 'write' | 'sync' | 'close'

/** A disk operation of a recording failed. Earlier data is unchanged. */
export class RecordingFault extends Error {
  override readonly name = 'RecordingFault'

  constructor(
    readonly code: RecordingFaultCode,
    readonly operation: RecordingOperation,
    readonly path: string,
    /** Remedy, one plain sentence. */
    readonly hint: string,
    override readonly cause: unknown,
  ) {
    const why = cause instanceof Error ? cause.message : String(cause)
    super(`cannot ${operation} the recording ${path}: ${why}; ${hint}`)
  }
}

const known: Readonly<Record<string, readonly [RecordingFaultCode, hint: string]>> = {
  ENOSPC: ['disk-full', 'free some space or record to another disk'],
  EDQUOT: ['disk-full', 'the quota is used up: free some space or record to another disk'],
  EFBIG: ['disk-full', 'the file may not grow further: record to another disk'],
  EROFS: ['read-only', 'the disk is read-only: record to another folder'],
  EACCES: [
    'no-permission',
    'this user may not write there: record to another folder or change its permissions',
  ],
  EPERM: [
    'no-permission',
    'this user may not write there: record to another folder or change its permissions',
  ],
  ENOENT: ['no-folder', 'make the folder first'],
  ENOTDIR: ['no-folder', 'a part of the path is a file: choose a folder'],
  EISDIR: ['not-a-recording', 'the path is a folder: name a file in it'],
}

/** Converts a system error to a recording fault; a fault is returned unchanged. */
export function recordingFault(error: unknown, operation: RecordingOperation, path: string): RecordingFault {
  if (error instanceof RecordingFault) return error
  const systemCode = (error as NodeJS.ErrnoException | null)?.code ?? ''
  const [code, hint] = known[systemCode] ?? ['failed', 'check the disk and its cable']
  return new RecordingFault(code, operation, path, hint, error)
}
