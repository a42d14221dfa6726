import { writeFileSync } from 'node:fs'
import { join } from 'node:path'
import type { Context } from 'hono'
import * as v from 'valibot'
import { judgeWork, type WorkKind } from '#analysis/fuel-work/judge-work.ts'
import { handbookScheme, lookMethods } from '#analysis/fuel-work/looks.ts'
import { SheetError } from '#analysis/fuel-work/sheet-entries.ts'
import { sheetForms } from '#analysis/fuel-work/sheet-fields.ts'
import { readWetSheet } from '#analysis/fuel-work/wet-sheet.ts'
import { wetStages } from '#analysis/fuel-work/wet-stages.ts'
import { rangeWords, torqueRange } from '#analysis/hunt/torque-tables.ts'
import type { System } from '#analysis/model/system.ts'
import type { Archive } from '#dashboard/archive/archive.ts'
import { inTemporaryFolder } from '#dashboard/archive/archive-folder.ts'
import type { BenchSession } from '#dashboard/server/session/bench-session.ts'
import { SavedSheets, sheetEntry, sheetOrder } from '#dashboard/wet/saved-sheets.ts'
import { archiveSurroundings, type KeptRecording, sealWetWork } from '#dashboard/wet/work-archive.ts'
import { readRecording } from '#ingest/recording/read-recording.ts'
import { UnreadableFile } from '#ingest/recording/unreadable-file.ts'
import { personOrNone } from './bodies.ts'
import type { Env } from './guard.ts'
import { picture } from './read-request.ts'
import { RequestError } from './request-error.ts'
import type { RouteTable } from './routes.ts'

/** Limits: 12 MB for the photos of a stage, 16 MB for the recordings of a sender; their pages state the limit. */
const filesBytes = 16 * 1024 * 1024

/** A safe file name on every system. */
const fileName = v.pipe(
  v.string(),
  v.maxLength(500),
  v.transform((name) => name.replaceAll(/[^\w.-]/g, '_').replace(/^\.+/, '_')),
)

/** Common part of every request of the wet work, beside its sheet. */
const workBody = v.strictObject({
  sheet: v.optional(v.unknown()),
  seal: v.optional(v.boolean(), false),
  operator: personOrNone,
  photos: v.optional(
    v.pipe(v.array(v.strictObject({ name: fileName, base64: picture })), v.maxLength(500)),
    [],
  ),
  recordings: v.optional(
    v.pipe(v.array(v.strictObject({ name: fileName, text: v.string() })), v.maxLength(500)),
    [],
  ),
})
type Asked = v.InferOutput<typeof workBody>

/**
 * The fuel work: each POST takes `{ sheet, seal, operator, photos, recordings }`, judges the sheet like the command,
 * answers `{ results, records }`, and seals on request. The sheets of the stages are also saved on disk, entry by
 * entry; every look gets the server's time.
 */
export function wetRoutes(table: RouteTable, session: BenchSession, archive: Archive): void {
  const around = (stampsCount: boolean) => ({
    ...archiveSurroundings(archive),
    nowNs: () => BigInt(Date.now()) * 1_000_000n,
    stampsCount,
  })
  const sheets = new SavedSheets(archive.folder, (sheet) => {
    readWetSheet(sheet, session.systemFile.system, around(true))
  })
  const judge = (kind: WorkKind, sheet: unknown, asked: Asked, stampsCount: boolean) => {
    const { system, text } = session.systemFile
    const recording = recordingReader(asked.recordings, system)
    const judged = judgeWork(kind, sheet, system, { ...around(stampsCount), recording })
    const results = judged.map(({ result }) => result)
    if (!asked.seal) return { results, records: [] }
    const photos = asked.photos.map(({ name, base64: bytes }) => ({ name, bytes }))
    const kept = { text, name: system.name }
    const records = withFiles(asked.recordings, (recordings) =>
      judged.map(
        (one) => sealWetWork(archive, kind, one, kept, { operator: asked.operator, photos, recordings }).id,
      ),
    )
    return { results, records }
  }
  const idOf = (context: Context<Env>) => context.req.param('id') ?? ''
  table.get('/api/wet', () => {
    const ranges = session.systemFile.system.fittings.map((fitting) => {
      const range = torqueRange(fitting)
      return { id: fitting.id, words: range && rangeWords(range) }
    })
    const [scheme, methods, forms] = [handbookScheme, lookMethods, sheetForms]
    return { stages: wetStages, scheme, methods, ranges, forms }
  })
  table.get('/api/wet/sheets', () => sheets.list())
  table.post('/api/wet/sheets', sheetOrder, (order) => orRefused(() => sheets.open(order)))
  table.post('/api/wet/sheets/:id/entry', sheetEntry, (entry, context) =>
    orRefused(() => sheets.change(idOf(context), entry)),
  )
  table.post('/api/wet/sheets/:id/put-aside', v.strictObject({}), (_, context) =>
    orRefused(() => {
      sheets.close(sheets.get(idOf(context)).id, 'put-aside')
      return sheets.list()
    }),
  )
  table.post(
    '/api/wet/sheets/:id/judge',
    workBody,
    (asked, context) =>
      orRefused(() => {
        const { id, sheet } = sheets.get(idOf(context))
        const done = judge('wet', sheet, asked, true)
        if (asked.seal) sheets.close(id, 'sealed')
        return done
      }),
    filesBytes,
  )
  const post = (path: string, kind: WorkKind, bodyBytes?: number) =>
    table.post(path, workBody, (asked) => orRefused(() => judge(kind, asked.sheet, asked, false)), bodyBytes)
  post('/api/wet', 'wet', filesBytes)
  post('/api/flow', 'flow')
  post('/api/torque', 'work')
  post('/api/level', 'level', filesBytes)
}

/** Recordings sent as text with the request, by name. */
function recordingReader(recordings: Asked['recordings'], system: System) {
  return (name: string) => {
    const sent = recordings.find((one) => one.name === name)
    if (!sent)
      throw new SheetError(
        `${name}: no recording of that name came with the sheet; a flow channel is read by the command stillhold flow`,
      )
    return readRecording(sent.text, system, name)
  }
}

/** Writes recordings sent as text to files until the archive has copied them. */
function withFiles<T>(recordings: Asked['recordings'], work: (kept: readonly KeptRecording[]) => T): T {
  if (recordings.length === 0) return work([])
  return inTemporaryFolder('sheet', (folder) =>
    work(
      recordings.map(({ name, text }) => {
        const path = join(folder, name)
        const bytes = Buffer.from(text, 'utf8')
        writeFileSync(path, bytes)
        return { path, name, bytes }
      }),
    ),
  )
}

function orRefused<T>(work: () => T): T {
  try {
    return work()
  } catch (cause) {
    if (cause instanceof SheetError || cause instanceof UnreadableFile)
      throw new RequestError(422, `${cause.message}.`)
    throw cause
  }
}
