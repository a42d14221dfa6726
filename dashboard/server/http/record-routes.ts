import { createReadStream, readFileSync, statSync } from 'node:fs'
import { Readable } from 'node:stream'
import type { Context } from 'hono'
import type { HoldAnalysis } from '#analysis/model/hold-result.ts'
import type { Archive } from '#dashboard/archive/archive.ts'
import { takenBackAfter } from '#dashboard/archive/recompute-hold.ts'
import type { RecordFilter, SealedRecord } from '#dashboard/archive/record.ts'
import { type AnalysisThread, AnswerCache } from '#dashboard/server/session/analysis-thread.ts'
import type { Tasks } from '#dashboard/server/session/analysis-worker.ts'
import type { BenchSession } from '#dashboard/server/session/bench-session.ts'
import { readSystemFile } from '#ingest/system-file/read-system-file.ts'
import type { Env } from './guard.ts'
import { readNumber, readUnits } from './read-request.ts'
import { RequestError } from './request-error.ts'
import type { RouteTable } from './routes.ts'

/**
 * Browses and downloads sealed records, and evaluates all records together. Long work runs on `thread`, apart from
 * the analysis of holds.
 */
export function recordRoutes(
  table: RouteTable,
  session: BenchSession,
  archive: Archive,
  thread: AnalysisThread,
  programVersion: string,
): void {
  const analyses = new AnswerCache<Awaited<ReturnType<Tasks['recompute']>>>(8)

  table.get('/api/records', (context) => {
    const { verdict, section, kind, text } = context.req.query()
    const given = Object.entries({ verdict, section, kind, text }).filter(([, value]) => value)
    return archive.list(Object.fromEntries(given) as RecordFilter)
  })
  table.get('/api/records/:id', async (context) => {
    const record = archive.get(recordId(context))
    const corrections = archive.list({ kind: 'correction' }).map(({ id }) => archive.get(id))
    const path = archive.recordingPath(recordId(context))
    const takenBack = takenBackAfter(record, corrections)
    const analysis = await analyses.of([record.signature, ...takenBack.keys()].join(), () =>
      thread.ask('recompute', record, path, takenBack),
    )
    const { by, verdict } = analysis?.corrected ?? {}
    return {
      record,
      curves: (analysis?.curves ?? []).map(plainCurves),
      statedHoldS: statedHoldS(record),
      corrected: by ? { by, verdict } : null,
      meaning: analysis?.meaning ?? [],
      budget: analysis?.result.budget ?? null,
    }
  })
  table.get('/api/records/:id/columns', (context) => {
    const { path, systemText } = recordingOf(context, archive)
    const fromS = readNumber(context, 'from', Number.NEGATIVE_INFINITY)
    const toS = readNumber(context, 'to', Number.POSITIVE_INFINITY)
    const points = readNumber(context, 'points', 1000, 1, 20_000)
    return thread.ask('columns', path, systemText, fromS, toS, Math.floor(points))
  })
  table.get('/api/records/:id/marks', (context) => {
    const { path, systemText } = recordingOf(context, archive)
    return thread.ask('marks', path, systemText)
  })
  table.get('/api/records/:id/photos/:sha256', (context) => {
    const { photos } = archive.get(recordId(context))
    const photo = photos.find(({ sha256 }) => sha256 === context.req.param('sha256'))
    const path = photo ? archive.photoPath(photo.sha256) : null
    if (!photo || !path) throw new RequestError(404, 'The record has no such photo.')
    return context.body(new Uint8Array(readFileSync(path)), 200, {
      'content-type': pictureType(photo.name),
      'x-content-type-options': 'nosniff',
    })
  })
  table.get('/api/records/:id/report.pdf', async (context) => {
    const kept = archive.keptRecord(recordId(context))
    const pdf = await thread.ask('report', archive.folder, kept, programVersion)
    return download(context, pdf, 'application/pdf', `${kept.record.id}.pdf`)
  })
  table.get('/api/records/:id/recording.lp', (context) => {
    const { path, name } = recordingOf(context, archive)
    const stream = Readable.toWeb(createReadStream(path)) as ReadableStream<Uint8Array>
    return context.body(stream, 200, {
      ...attachment('text/plain; charset=utf-8', name),
      'content-length': String(statSync(path).size),
    })
  })
  table.get('/api/records/:id/record.json', (context) => {
    const id = recordId(context)
    return download(context, archive.getText(id), 'application/json', `${archive.get(id).id}.json`)
  })
  table.get('/api/records/:id/samples.csv', async (context) => {
    const { path, name, systemText } = recordingOf(context, archive)
    const csv = await thread.ask('csv', path, systemText)
    return download(context, csv, 'text/csv; charset=utf-8', name.replace(/\.lp$/, '.csv'))
  })

  const systemNow = () => session.systemFile.system
  table.get('/api/ledger', () => thread.ask('ledger', systemNow(), archive.known()))
  table.get('/api/hunt', async (context) => {
    const taken_at = new Date().toISOString()
    const system = systemNow()
    return { ...(await thread.ask('hunt', system, archive.known(), readUnits(context, system))), taken_at }
  })
  table.get('/api/gauges', () => thread.ask('gauges', archive.known()))
  table.get('/api/history', () => thread.ask('history', systemNow(), archive.known()))
  table.get('/api/campaign', () => thread.ask('campaign', systemNow(), archive.known(), new Date()))
  table.get('/api/campaign.pdf', async (context) => {
    const pdf = await thread.ask('campaignSheet', systemNow(), archive.known(), new Date(), programVersion)
    return download(context, pdf, 'application/pdf', 'campaign.pdf')
  })
  table.get('/api/dossier.pdf', async (context) => {
    const system = { name: systemNow().name, text: session.systemFile.text }
    const pdf = await thread.ask('dossier', archive.folder, archive.kept(), system, programVersion)
    return download(context, pdf, 'application/pdf', 'dossier.pdf')
  })
}

/** Media type by file extension; unknown pictures are served as bytes. */
function pictureType(name: string): string {
  const type = /\.(jpe?g|png|webp|heic|avif)$/i.exec(name)?.[1]?.toLowerCase()
  return type === undefined ? 'application/octet-stream' : `image/${type === 'jpg' ? 'jpeg' : type}`
}

function recordId(context: Context<Env>): string {
  const id = context.req.param('id') ?? ''
  if (!/^[\w-]{1,100}(@[0-9a-f]{1,64})?$/.test(id)) throw new RequestError(400, 'That is no record id.')
  return id
}

function recordingOf(
  context: Context<Env>,
  archive: Archive,
): { path: string; name: string; systemText: string } {
  const id = recordId(context)
  const record = archive.get(id)
  const path = archive.recordingPath(id)
  if (!path || !record.recording) throw new RequestError(404, `The record ${id} has no recording.`)
  return { path, name: record.recording.name, systemText: record.system.text }
}

/** The allowance refers to the stated hold time, even for a hold that ended early or late. */
function statedHoldS({ id, system, result }: SealedRecord): number | null {
  const { system: read } = readSystemFile(system.text, `system file of ${id}`)
  return read?.holds.find((one) => 'hold' in result && one.id === result.hold)?.holdS ?? null
}

/** Columns become plain arrays for the page. */
function plainCurves(curves: HoldAnalysis['curves'][number]): Record<string, unknown> {
  const plain = Object.entries(curves).map(([key, value]) => [
    key,
    value instanceof Float64Array ? Array.from(value) : value,
  ])
  return Object.fromEntries(plain)
}

function download(context: Context<Env>, bytes: Uint8Array | string, type: string, name: string): Response {
  const body = typeof bytes === 'string' ? bytes : new Uint8Array(bytes)
  return context.body(body, { status: 200, headers: attachment(type, name) })
}

function attachment(type: string, name: string): Record<string, string> {
  const safe = name.replaceAll(/[^\w.@-]/g, '_')
  return { 'content-type': type, 'content-disposition': `attachment; filename="${safe}"` }
}
