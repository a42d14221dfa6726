import { mkdtempSync, rmSync, writeFileSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { type Context, Hono } from 'hono'
import type { System } from '#analysis/model/system.ts'
import { calibrateLevel } from '#analysis/wet/calibrate-level.ts'
import { checkFlow } from '#analysis/wet/check-flow.ts'
import { judgeTorque, rangeFor } from '#analysis/wet/judge-torque.ts'
import { judgeWetStage } from '#analysis/wet/judge-wet-stage.ts'
import { handbookScheme } from '#analysis/wet/seep-classes.ts'
import { wetStages } from '#analysis/wet/wet-stages.ts'
import type { Archive } from '#dashboard/archive/archive.ts'
import type { RecordKind } from '#dashboard/archive/record.ts'
import { recordVerdict } from '#dashboard/archive/record-summary.ts'
import { readRecording } from '#ingest/recording/read-recording.ts'
import { UnreadableFile } from '#ingest/recording/unreadable-file.ts'
import type { BenchSession } from './bench-session.ts'
import type { Env } from './guard.ts'
import { RequestError } from './request-error.ts'
import { sealWetWork } from './seal-wet-work.ts'
import { SheetEntries, SheetError } from './wet-sheet-reader.ts'
import { readFlowSheet, readWetSheet, readWorkSheet } from './wet-sheets.ts'

/** What every request of the wet work carries beside its sheet. */
interface Asked {
  readonly sheet: unknown
  readonly seal: boolean
  readonly operator: string | null
  readonly photos: readonly { readonly name: string; readonly bytes: Uint8Array }[]
}

/**
 * The wet work: each POST takes `{ sheet, seal, operator, photos }` with the sheet that the command reads, answers
 * `{ results, records }`, and seals when asked to.
 */
export function wetRoutes(session: BenchSession, archive: Archive): Hono<Env> {
  const app = new Hono<Env>()
  const post = (path: string, kind: RecordKind, judge: (sheet: unknown, system: System) => Judged) =>
    app.post(path, async (context) => {
      const { system, text } = session.systemFile
      if (!system) throw new RequestError(409, 'The system file has errors: correct it on the setup page.')
      const asked = await readAsked(context)
      const { results, recording } = orRefused(() => judge(asked.sheet, system))
      if (!asked.seal) return context.json({ results, records: [] })
      const { operator, photos } = asked
      const kept = { text, name: system.name }
      const records = withRecording(recording ?? null, (recordingPath) =>
        results.map(
          (result) => sealWetWork(archive, kind, result, kept, { operator, photos, recordingPath }).id,
        ),
      )
      return context.json({ results, records })
    })
  app.get('/api/wet', (context) => {
    const fittings = session.systemFile.system?.fittings ?? []
    const ranges = fittings.map((fitting) => ({ id: fitting.id, range: rangeFor(fitting, null, null) }))
    return context.json({ stages: wetStages, scheme: handbookScheme, ranges })
  })
  post('/api/wet', 'wet', (sheet, system) => ({
    results: [
      judgeWetStage(
        readWetSheet(sheet, system, (id) => holdVerdict(archive, id)),
        system,
      ),
    ],
  }))
  post('/api/flow', 'flow', (sheet, system) => ({
    results: [checkFlow(readFlowSheet(sheet, system, noChannel))],
  }))
  post('/api/torque', 'work', (sheet, system) => ({
    results: readWorkSheet(sheet, system).map((entry) =>
      judgeTorque(system.fittings.find(({ id }) => id === entry.fitting)!, entry),
    ),
  }))
  post('/api/level', 'level', level)
  return app
}

interface Judged {
  readonly results: readonly object[]
  readonly recording?: { readonly name: string; readonly text: string }
}

/** Level sheet: `channel`, `steps`, and the recording as `name` and `recording`. */
function level(value: unknown, system: System): Judged {
  const sheet = new SheetEntries(value, 'level sheet')
  const senders = system.channels.filter(({ measures }) => measures === 'level-sender')
  const id = sheet.word(
    'channel',
    senders.map((channel) => channel.id),
  )
  const channel = senders.find((one) => one.id === id)!
  const steps = sheet.number('steps') ?? 8
  if (!Number.isInteger(steps) || steps < 2 || steps > 64)
    sheet.fail('steps', 'is no whole number from 2 to 64')
  const name = sheet.text('name').replaceAll(/[^\w.-]/g, '_')
  const text = sheet.content('recording')
  sheet.finish()
  const section = system.sections.find((one) => one.id === channel.section)!
  const result = calibrateLevel([readRecording(text, system, name)], channel, section, steps)
  return { results: [result], recording: { name, text } }
}

function holdVerdict(archive: Archive, id: string) {
  const found = archive.evidence().find((record) => record.id === id && record.kind === 'hold')
  return found ? recordVerdict(found) : null
}

function noChannel(): never {
  throw new SheetError(
    'run: channel is read by the command stillhold flow; enter what was weighed or measured here',
  )
}

/** A recording that came as text is kept as a file long enough for the archive to copy it. */
function withRecording<T>(recording: Judged['recording'] | null, work: (path: string | null) => T): T {
  if (!recording) return work(null)
  const folder = mkdtempSync(join(tmpdir(), 'stillhold-level-'))
  try {
    const path = join(folder, recording.name)
    writeFileSync(path, recording.text)
    return work(path)
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
  let body: unknown
  try {
    body = await context.req.json()
  } catch {
    throw new RequestError(400, 'The request is not JSON.')
  }
  return orRefused(() => {
    const asked = new SheetEntries(body, 'request')
    const sheet = asked.optional('sheet')
    const seal = asked.flag('seal') ?? false
    const operator = asked.optionalText('operator')
    const photos = asked.list('photos').map((photo) => {
      const entry = new SheetEntries(photo, 'photo')
      const name = entry.text('name')
      const base64 = entry.content('base64')
      return { name, bytes: Buffer.from(base64, 'base64') }
    })
    asked.finish()
    return { sheet, seal, operator, photos }
  })
}
