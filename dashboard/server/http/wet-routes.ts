import { mkdtempSync, rmSync, writeFileSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import type { Context } from 'hono'
import { lookMethods } from '#analysis/fuel-work/look-methods.ts'
import { handbookScheme } from '#analysis/fuel-work/seep-classes.ts'
import { sheetForms } from '#analysis/fuel-work/sheet-fields.ts'
import { wetStages } from '#analysis/fuel-work/wet-stages.ts'
import { rangeWords, torqueRange } from '#analysis/hunt/torque-tables.ts'
import type { System } from '#analysis/model/system.ts'
import type { Archive } from '#dashboard/archive/archive.ts'
import type { BenchSession } from '#dashboard/server/session/bench-session.ts'
import { isPicture } from '#dashboard/server/session/wet-photos.ts'
import { archiveSurroundings } from '#dashboard/wet/archive-surroundings.ts'
import { judgeWork, type WorkKind } from '#dashboard/wet/judge-work.ts'
import { SavedSheets } from '#dashboard/wet/saved-sheets.ts'
import { type KeptRecording, sealWetWork } from '#dashboard/wet/seal-wet-work.ts'
import { SheetEntries, SheetError } from '#dashboard/wet/sheet-entries.ts'
import { readWetSheet } from '#dashboard/wet/wet-sheets.ts'
import { readRecording } from '#ingest/recording/read-recording.ts'
import { UnreadableFile } from '#ingest/recording/unreadable-file.ts'
import type { Env, Route } from './guard.ts'
import { RequestError } from './request-error.ts'
import { RouteTable } from './routes.ts'

/** Photos of a stage may have 12 MB together, recordings of a sender 16 MB; their pages tell this limit. */
const filesBytes = 16 * 1024 * 1024

/** What every request of the wet work carries beside its sheet. */
interface Asked {
  readonly sheet: unknown
  readonly seal: boolean
  readonly operator: string | null
  readonly photos: readonly { readonly name: string; readonly bytes: Uint8Array }[]
  readonly recordings: readonly SentRecording[]
}

interface SentRecording {
  readonly name: string
  readonly text: string
}

/**
 * The fuel work: each POST takes `{ sheet, seal, operator, photos, recordings }` with the sheet that the command reads, answers
 * `{ results, records }`, and seals when asked to. The sheets of the stages are kept on disk besides, changed entry by
 * entry, every look stamped with the server's time.
 */
export function wetRoutes(session: BenchSession, archive: Archive): Route[] {
  const table = new RouteTable()
  const systemNow = (): { readonly system: System; readonly text: string } => {
    const { system, text } = session.systemFile
    if (!system) throw new RequestError(409, 'The system file has errors: correct it on the setup page.')
    return { system, text }
  }
  const around = (stampsCount: boolean) => ({
    ...archiveSurroundings(archive),
    nowNs: () => BigInt(Date.now()) * 1_000_000n,
    stampsCount,
  })
  const sheets = new SavedSheets(archive.folder, (sheet) => {
    readWetSheet(sheet, systemNow().system, around(true))
  })
  const answer = (kind: WorkKind, asked: Asked, stampsCount: boolean) => {
    const { system, text } = systemNow()
    const recording = recordingReader(asked.recordings, system)
    const judged = orRefused(() =>
      judgeWork(kind, asked.sheet, system, { ...around(stampsCount), recording }),
    )
    const results = judged.map(({ result }) => result)
    if (!asked.seal) return { results, records: [] }
    const { operator, photos } = asked
    const kept = { text, name: system.name }
    const records = withFiles(asked.recordings, (recordings) =>
      judged.map(
        (one) => orRefused(() => sealWetWork(archive, kind, one, kept, { operator, photos, recordings })).id,
      ),
    )
    return { results, records }
  }
  const post = (path: string, kind: WorkKind, bodyBytes?: number) =>
    table.post(
      path,
      async (context) => context.json(answer(kind, await readAsked(context), false)),
      bodyBytes,
    )
  table.get('/api/wet', (context) => {
    const fittings = session.systemFile.system?.fittings ?? []
    const ranges = fittings.map((fitting) => {
      const range = torqueRange(fitting)
      return { id: fitting.id, words: range && rangeWords(range) }
    })
    return context.json({
      stages: wetStages,
      scheme: handbookScheme,
      methods: lookMethods,
      ranges,
      forms: sheetForms,
    })
  })
  table.get('/api/wet/sheets', (context) => context.json(sheets.list()))
  table.post('/api/wet/sheets', async (context) => {
    const order = await jsonOf(context)
    return context.json(orRefused(() => sheets.open(order)))
  })
  table.post('/api/wet/sheets/:id/entry', async (context) => {
    const order = await jsonOf(context)
    return context.json(orRefused(() => sheets.change(context.req.param('id') ?? '', order)))
  })
  table.post('/api/wet/sheets/:id/put-aside', (context) => {
    const { id } = orRefused(() => sheets.get(context.req.param('id') ?? ''))
    sheets.close(id, 'put-aside')
    return context.json(sheets.list())
  })
  table.post(
    '/api/wet/sheets/:id/judge',
    async (context) => {
      const asked = await readAsked(context)
      const { id, sheet } = orRefused(() => sheets.get(context.req.param('id') ?? ''))
      const done = answer('wet', { ...asked, sheet }, true)
      if (asked.seal) sheets.close(id, 'sealed')
      return context.json(done)
    },
    filesBytes,
  )
  post('/api/wet', 'wet', filesBytes)
  post('/api/flow', 'flow')
  post('/api/torque', 'work')
  post('/api/level', 'level', filesBytes)
  return table.routes
}

async function jsonOf(context: Context<Env>): Promise<unknown> {
  try {
    return await context.req.json()
  } catch {
    throw new RequestError(400, 'The request is not JSON.')
  }
}

/** Recordings that came as text with the request, by name. */
function recordingReader(recordings: readonly SentRecording[], system: System) {
  return (name: string) => {
    const sent = recordings.find((one) => one.name === name)
    if (!sent)
      throw new SheetError(
        `${name}: no recording of that name came with the sheet; a flow channel is read by the command stillhold flow`,
      )
    return readRecording(sent.text, system, name)
  }
}

/** Recordings that came as text are kept as files long enough for the archive to copy them. */
function withFiles<T>(recordings: readonly SentRecording[], work: (kept: readonly KeptRecording[]) => T): T {
  if (recordings.length === 0) return work([])
  const folder = mkdtempSync(join(tmpdir(), 'stillhold-sheet-'))
  try {
    const kept = recordings.map(({ name, text }) => {
      const path = join(folder, name)
      const bytes = Buffer.from(text, 'utf8')
      writeFileSync(path, bytes)
      return { path, name, bytes }
    })
    return work(kept)
  } finally {
    rmSync(folder, { recursive: true, force: true })
  }
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

async function readAsked(context: Context<Env>): Promise<Asked> {
  const body = await jsonOf(context)
  return orRefused(() => {
    const asked = new SheetEntries(body, 'request')
    const sheet = asked.optional('sheet')
    const seal = asked.flag('seal') ?? false
    const operator = asked.optionalText('operator')
    const photos = asked.list('photos').map((photo) => {
      const entry = new SheetEntries(photo, 'photo')
      const name = entry.text('name')
      const bytes = Buffer.from(entry.content('base64'), 'base64')
      entry.finish()
      if (!isPicture(bytes)) entry.fail('base64', `of ${name} is no JPEG, PNG, WebP or HEIC picture`)
      return { name: fileName(name), bytes }
    })
    const recordings = asked.list('recordings').map((recording) => {
      const entry = new SheetEntries(recording, 'recording')
      const read = { name: fileName(entry.text('name')), text: entry.content('text') }
      entry.finish()
      return read
    })
    asked.finish()
    return { sheet, seal, operator, photos, recordings }
  })
}

/** A name that is safe as a file's on every system. */
function fileName(name: string): string {
  return name.replaceAll(/[^\w.-]/g, '_').replace(/^\.+/, '_')
}
