import { basename } from 'node:path'
import { parentPort } from 'node:worker_threads'
import { gaugeDrifts } from '#analysis/hunt/gauge-drift.ts'
import { history } from '#analysis/hunt/history.ts'
import { hunt } from '#analysis/hunt/hunt.ts'
import { ledger } from '#analysis/hunt/ledger.ts'
import type { HoldAnalysis } from '#analysis/model/hold-result.ts'
import { isoTime, type Mark, type Recording } from '#analysis/model/samples.ts'
import type { System } from '#analysis/model/system.ts'
import { campaign } from '#analysis/plan/campaign.ts'
import { planHold } from '#analysis/plan/plan-hold.ts'
import { type DisplayUnits, figuresIn, unitsOfSystem } from '#analysis/reasons/figures.ts'
import { analyzeRecording } from '#analysis/verdict/analyze-recording.ts'
import type { MinMaxColumns, RecordMarks } from '#dashboard/api.ts'
import { ArchiveEvidence } from '#dashboard/archive/archive-evidence.ts'
import { renderCampaignSheet } from '#dashboard/archive/page/campaign-sheet.ts'
import { printDossier, printReport } from '#dashboard/archive/print.ts'
import { recomputeHold, type TakenBack } from '#dashboard/archive/recompute-hold.ts'
import type { KnownRecord, SealedRecord } from '#dashboard/archive/record.ts'
import { sheetPrefix, textOf } from '#dashboard/archive/record-words.ts'
import { samplesCsv } from '#dashboard/archive/samples-csv.ts'
import { readRecordingFile } from '#ingest/recording/read-recording.ts'
import { systemFromFile } from '#ingest/system-file/read-system-file.ts'
import { GrowingRecording, type SampleColumns, sliceColumns } from './columns.ts'

if (!parentPort) throw new TypeError('this file runs as a thread of the server')
const port = parentPort

let growing: GrowingRecording | null = null
/** The recording opened last, cached: paging through a day's record reads it once. */
let opened: { key: string; recording: Recording } | null = null

const evidence = new ArchiveEvidence()

/** Tasks of the thread: each takes plain data and answers plain data. */
const tasks = {
  /** A hold begins: appended readings belong to it. */
  begin(system: System, name: string, startNs: string): void {
    growing = new GrowingRecording(system, name, startNs)
  },
  append(channels: Readonly<Record<string, SampleColumns>>): void {
    growing?.append(channels)
  },
  /** The hold is over: its readings are discarded. */
  end(): void {
    growing = null
  },
  /** Interim result of the running hold; null before it can be analyzed. */
  look(hold: string, marks: readonly Mark[]): HoldAnalysis | null {
    if (!growing) return null
    return analyzeRecording(growing.recording(marks), growing.system, { hold, live: true }).at(-1) ?? null
  },
  /** The holds of a recording on disk, analyzed like `analyze`. */
  analyze(path: string, name: string, systemText: string): HoldAnalysis[] {
    const read = systemFromFile(systemText, 'system file')
    return analyzeRecording(readRecordingFile(path, read, undefined, name), read)
  },
  /** What a hold can decide, from a rehearsal; null when the system file has no such hold. */
  plan: (system: System, hold: string, units: DisplayUnits) => planHold(system, hold, { units }),
  /** The hold of a sealed record, recomputed from its recording like `verify`; null when this program cannot. */
  recompute(record: SealedRecord, path: string | null, takenBack: TakenBack) {
    const { analysis, corrected } = recomputeHold(record, path, takenBack, true)
    return analysis && { ...analysis, corrected }
  },
  ledger: (system: System, known: readonly KnownRecord[]) => ledger(system, evidence.of(known)),
  history: (system: System, known: readonly KnownRecord[]) => history(system, evidence.of(known)),
  gauges: (known: readonly KnownRecord[]) => gaugeDrifts(evidence.zeros(known)),
  hunt: (system: System, known: readonly KnownRecord[], units: DisplayUnits) =>
    hunt(system, evidence.of(known), { units }),
  /** The set-ups that close the ledger, as of now. */
  campaign: (system: System, known: readonly KnownRecord[], now: Date) =>
    campaign(system, evidence.of(known), { nowNs: BigInt(now.getTime()) * 1_000_000n }),
  campaignSheet(system: System, known: readonly KnownRecord[], now: Date, programVersion: string) {
    const words = (sections: readonly string[]) => figuresIn(unitsOfSystem(system, sections))
    return renderCampaignSheet(tasks.campaign(system, known, now), words, now, programVersion)
  },
  report: printReport,
  dossier: printDossier,
  csv(path: string, systemText: string): Uint8Array {
    const read = systemFromFile(systemText, 'system file')
    return Buffer.from([...samplesCsv(readRecordingFile(path, read), read)].join(''))
  },
  /** Every mark in a recording; without channels no column is filled. */
  marks(path: string, systemText: string): RecordMarks {
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
          time: isoTime(mark.timeNs),
          kind: mark.kind,
          id: mark.id,
          text: textOf(mark),
          ...(typeof mark.fields.photo === 'string' && { photo: mark.fields.photo }),
        })),
      stateSheet: sheet ? String(sheet.fields.text).slice(sheetPrefix.length).split('; ') : [],
    }
  },
  columns(path: string, systemText: string, fromS: number, toS: number, points: number): MinMaxColumns[] {
    const key = `${basename(path)}\n${systemText}`
    if (opened?.key !== key) {
      opened = null
      const read = systemFromFile(systemText, 'system file')
      opened = { key, recording: readRecordingFile(path, read) }
    }
    return opened.recording.channels.map((channel) => sliceColumns(channel, fromS, toS, points))
  },
}

export type Tasks = typeof tasks

/** An order of the thread; `ask` numbers those that need an answer. */
export interface Order {
  readonly kind: keyof Tasks
  readonly given: readonly unknown[]
  readonly ask?: number
}

export interface Answer {
  readonly ask: number
  readonly value?: unknown
  /** Why there is no value. */
  readonly fault?: string
}

/** One order at a time, first in, first out. */
let turn: Promise<void> = Promise.resolve()

port.on('message', (order: Order) => {
  turn = turn.then(() => answer(order))
})

async function answer({ kind, given, ask }: Order): Promise<void> {
  try {
    const value = await (tasks[kind] as (...given: readonly unknown[]) => unknown)(...given)
    if (ask !== undefined) port.postMessage({ ask, value } satisfies Answer)
  } catch (error) {
    const fault = error instanceof Error ? error.message : String(error)
    if (ask !== undefined) port.postMessage({ ask, fault } satisfies Answer)
    else process.stderr.write(`analysis: ${fault}\n`)
  }
}
