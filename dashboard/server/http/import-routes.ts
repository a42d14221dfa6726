import { writeFileSync } from 'node:fs'
import { join } from 'node:path'
import * as v from 'valibot'
import type { ImportAnswer } from '#dashboard/api.ts'
import type { Archive } from '#dashboard/archive/archive.ts'
import { ArchiveError } from '#dashboard/archive/archive-error.ts'
import { inTemporaryFolder } from '#dashboard/archive/archive-folder.ts'
import { recordedHolds } from '#dashboard/archive/recorded-holds.ts'
import type { BenchSession } from '#dashboard/server/session/bench-session.ts'
import { recordingHeader } from '#ingest/recording/recording-header.ts'
import { UnreadableFile } from '#ingest/recording/unreadable-file.ts'
import { importTable } from '#ingest/spreadsheet/import-table.ts'
import { id, words } from './bodies.ts'
import { RequestError } from './request-error.ts'
import type { RouteTable } from './routes.ts'

/** A day at 10 Hz as a spreadsheet, in base64. */
const fileBytes = 48_000_000

const importBody = v.strictObject({
  name: v.pipe(words, v.regex(/^[^/\\]+$/, 'is no name of a file')),
  base64: v.pipe(v.string(), v.regex(/^[A-Za-z0-9+/]*=*$/, 'is no base64')),
  /** Time of the file's last change, [ms]: the time of the first row when no column has times. */
  changedMs: v.pipe(v.number(), v.integer()),
  zone: v.pipe(v.string(), v.regex(/^[\w+/-]{1,60}$/, 'is no zone')),
  hold: v.nullable(id),
  typed: v.boolean(),
  /** Null requests a preview only. */
  operator: v.nullable(words),
})

/** Files dropped on the page are handled like `import` and `seal`: first a preview, then the import. */
export function importRoutes(table: RouteTable, session: BenchSession, archive: Archive): void {
  table.post(
    '/api/import',
    importBody,
    (asked) => {
      if (session.controller.running)
        throw new RequestError(409, 'A hold is running: import the file after it.')
      return inTemporaryFolder('import', (folder) => {
        const path = join(folder, recordingName(asked.name))
        try {
          return taken(asked, path, session, archive)
        } catch (cause) {
          if (cause instanceof UnreadableFile || cause instanceof ArchiveError)
            throw new RequestError(409, cause.message.replaceAll(path, asked.name))
          throw cause
        }
      })
    },
    fileBytes,
  )
}

/** Name under which a dropped file's recording is sealed: its own, in characters that every file system takes. */
function recordingName(name: string): string {
  const stem = name.replace(/\.[^.]*$/, '').replace(/[^\p{L}\p{N}_. -]+/gu, '_')
  return `${stem.slice(0, 60)}.lp`
}

function taken(
  { name, base64, changedMs, zone, hold, typed, operator }: v.InferOutput<typeof importBody>,
  path: string,
  { systemFile: { text, system } }: BenchSession,
  archive: Archive,
): ImportAnswer {
  const bytes = Buffer.from(base64, 'base64')
  const isRecording = bytes.subarray(0, recordingHeader.length).toString() === recordingHeader
  const table = isRecording
    ? null
    : importTable(bytes, name, system, {
        ...{ zone, hold, name, dates: null, columns: new Map() },
        startNs: BigInt(Math.floor(changedMs / 1000)) * 1_000_000_000n,
        startFrom: 'the time of the file’s last change',
        origin: typed ? 'typed' : 'import',
      })
  writeFileSync(path, table?.recording ?? bytes)
  const drafts = recordedHolds(path, name, text, system, { hold, operator: operator ?? '' })
  return {
    about: table?.about ?? 'a recording of this program',
    columns: table?.columns ?? [],
    points: table?.points ?? null,
    rejected: table?.rejected ?? 0,
    from: table && String(table.firstNs),
    to: table && String(table.lastNs),
    holds: drafts.map(({ result }) => ({ hold: result.hold, verdict: result.verdict })),
    records: operator === null ? [] : drafts.map((draft) => archive.seal(draft).id),
  }
}
