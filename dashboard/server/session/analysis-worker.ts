import { basename } from 'node:path'
import { parentPort } from 'node:worker_threads'
import { history } from '#analysis/hunt/history.ts'
import { hunt } from '#analysis/hunt/hunt.ts'
import { ledger } from '#analysis/hunt/ledger.ts'
import type { Campaign } from '#analysis/model/campaign.ts'
import type { HoldAnalysis } from '#analysis/model/hold-result.ts'
import type { Recording } from '#analysis/model/samples.ts'
import { campaign } from '#analysis/plan/campaign.ts'
import { planHold } from '#analysis/plan/plan-hold.ts'
import { figuresIn, unitsOfSystem } from '#analysis/reasons/figures.ts'
import { analyzeRecording } from '#analysis/verdict/analyze-recording.ts'
import type { MinMaxColumns, RecordMarks } from '#dashboard/api.ts'
import { ArchiveEvidence } from '#dashboard/archive/archive-evidence.ts'
import { sheetPrefix, textOf } from '#dashboard/archive/mark-words.ts'
import { renderCampaignSheet } from '#dashboard/archive/page/campaign-sheet.ts'
import { printDossier, printReport } from '#dashboard/archive/print.ts'
import { recomputeHold } from '#dashboard/archive/recompute-hold.ts'
import { samplesCsv } from '#dashboard/archive/samples-csv.ts'
import { readRecordingFile } from '#ingest/recording/read-recording.ts'
import { systemFromFile } from '#ingest/system-file/read-system-file.ts'
import type { Answer, Order, RecomputedAnalysis } from './analysis-thread.ts'
import { GrowingRecording } from './growing-recording.ts'
import { sliceColumns } from './slice-columns.ts'

if (!parentPort) throw new TypeError('this file runs as a thread of the server')
const port = parentPort

let growing: GrowingRecording | null = null
/** The recording opened last: paging through a day's record reads it once. */
let opened: { key: string; recording: Recording } | null = null

const evidence = new ArchiveEvidence()

/** One at a time, in the order asked. */
let turn: Promise<void> = Promise.resolve()

port.on('message', (order: Order & { ask?: number }) => {
  turn = turn.then(() => answer(order))
})

async function answer(order: Order & { ask?: number }): Promise<void> {
  const { ask } = order
  try {
    const value = await carryOut(order)
    if (ask !== undefined) port.postMessage({ ask, ok: true, value } satisfies Answer)
  } catch (error) {
    const message = error instanceof Error ? error.message : String(error)
    if (ask !== undefined) port.postMessage({ ask, ok: false, message } satisfies Answer)
    else process.stderr.write(`analysis: ${message}\n`)
  }
}

function carryOut(order: Order): unknown {
  switch (order.kind) {
    case 'begin':
      growing = new GrowingRecording(order.system, order.name, order.startNs)
      return null
    case 'append':
      growing?.append(order.channels)
      return null
    case 'end':
      growing = null
      return null
    case 'look': {
      if (!growing) return null
      growing.setMarks(order.marks)
      const all = analyzeRecording(growing.recording(), growing.system, { hold: order.hold, live: true })
      return all.at(-1) ?? null
    }
    case 'analyze':
      return analyzeFile(order.path, order.name, order.systemText)
    case 'plan':
      return planHold(order.system, order.hold, { units: order.units })
    case 'recompute':
      return recompute(order)
    case 'ledger':
      return ledger(order.system, evidence.of(order.kept))
    case 'history':
      return history(order.system, evidence.of(order.kept))
    case 'hunt':
      return hunt(order.system, evidence.of(order.kept), { units: order.units })
    case 'campaign':
      return planCampaign(order)
    case 'report':
      return printReport(order.folder, order.kept, order.programVersion)
    case 'dossier':
      return printDossier(order.folder, order.kept, order.system, order.programVersion)
    case 'marks':
      return marksOf(order)
    case 'csv':
      return csvOf(order)
    case 'columns':
      return readColumns(order)
  }
}

function planCampaign(order: Order & { kind: 'campaign' }): Campaign | Promise<Uint8Array> {
  const { system, now, programVersion } = order
  const nowNs = BigInt(now.getTime()) * 1_000_000n
  const plan = campaign(system, evidence.of(order.kept), { nowNs })
  if (programVersion === null) return plan
  const words = (sections: readonly string[]) => figuresIn(unitsOfSystem(system, sections))
  return renderCampaignSheet(plan, words, now, programVersion)
}

function analyzeFile(path: string, name: string, systemText: string): HoldAnalysis[] {
  const read = systemFromFile(systemText, 'system file')
  return analyzeRecording(readRecordingFile(path, read, undefined, name), read)
}

/** The hold of a record from its recording, as `verify` computes it. */
function recompute({ record, path, takenBack }: Order & { kind: 'recompute' }): RecomputedAnalysis | null {
  const { analysis, corrected } = recomputeHold(record, path, takenBack)
  return analysis && { ...analysis, corrected }
}

function csvOf({ path, systemText }: Order & { kind: 'csv' | 'marks' }): Uint8Array {
  const read = systemFromFile(systemText, 'system file')
  return Buffer.from([...samplesCsv(readRecordingFile(path, read), read)].join(''))
}

/** Only the marks are wanted: without channels no column is filled. */
function marksOf({ path, systemText }: Order & { kind: 'csv' | 'marks' }): RecordMarks {
  const read = systemFromFile(systemText, 'system file')
  const { marks } = readRecordingFile(path, { ...read, channels: [] })
  const sheet = marks.find(
    ({ kind, fields }) => kind === 'note' && String(fields.text).startsWith(sheetPrefix),
  )
  return {
    marks: marks
      .filter((mark) => mark !== sheet)
      .map((mark) => ({
        timeS: mark.timeS,
        time: new Date(Number(BigInt(mark.timeNs) / 1_000_000n)).toISOString(),
        kind: mark.kind,
        id: mark.id,
        text: textOf(mark),
        ...(typeof mark.fields.photo === 'string' && { photo: mark.fields.photo }),
      })),
    stateSheet: sheet ? String(sheet.fields.text).slice(sheetPrefix.length).split('; ') : [],
  }
}

function readColumns(order: Order & { kind: 'columns' }): MinMaxColumns[] {
  const key = `${basename(order.path)}\n${order.systemText}`
  if (opened?.key !== key) {
    opened = null
    const read = systemFromFile(order.systemText, 'system file')
    opened = { key, recording: readRecordingFile(order.path, read) }
  }
  return opened.recording.channels.map((channel) =>
    sliceColumns(channel, order.fromS, order.toS, order.points),
  )
}
