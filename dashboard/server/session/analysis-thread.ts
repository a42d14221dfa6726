import { existsSync } from 'node:fs'
import { fileURLToPath } from 'node:url'
import { Worker } from 'node:worker_threads'
import type { HistoryHold } from '#analysis/hunt/history.ts'
import type { Campaign } from '#analysis/model/campaign.ts'
import type { HoldAnalysis } from '#analysis/model/hold-result.ts'
import type { HuntResult } from '#analysis/model/hunt.ts'
import type { Ledger } from '#analysis/model/ledger.ts'
import type { Plan } from '#analysis/model/plan.ts'
import type { Mark } from '#analysis/model/samples.ts'
import type { System } from '#analysis/model/system.ts'
import type { DisplayUnits } from '#analysis/reasons/figures.ts'
import type { MinMaxColumns, RecordMarks } from '#dashboard/api.ts'
import type { CorrectedHold, TakenBack } from '#dashboard/archive/recompute-hold.ts'
import type { KeptRecord, SealedRecord } from '#dashboard/archive/record.ts'
import type { SampleColumns } from './growing-recording.ts'

/** A sealed hold computed again, and without the marks taken back since. */
export type RecomputedAnalysis = HoldAnalysis & { readonly corrected?: CorrectedHold }

export type Order =
  /** A hold begins: what follows belongs to it. */
  | { readonly kind: 'begin'; readonly system: System; readonly name: string; readonly startNs: string }
  | { readonly kind: 'append'; readonly channels: Readonly<Record<string, SampleColumns>> }
  /** The hold is over. */
  | { readonly kind: 'end' }
  /** What the running hold shows so far. */
  | { readonly kind: 'look'; readonly hold: string; readonly marks: readonly Mark[] }
  /** The holds of a recording on disk, by the same way as `analyze`. */
  | { readonly kind: 'analyze'; readonly path: string; readonly name: string; readonly systemText: string }
  /** What a hold can decide, by rehearsing it. */
  | {
      readonly kind: 'plan'
      readonly system: System
      readonly hold: string
      readonly units: DisplayUnits
    }
  /** The hold of a sealed record, computed again. */
  | {
      readonly kind: 'recompute'
      readonly record: SealedRecord
      readonly path: string | null
      readonly takenBack: TakenBack
    }
  /** What the sealed records say about the fittings of a system. */
  | { readonly kind: 'ledger' | 'history'; readonly system: System; readonly kept: readonly KeptRecord[] }
  | {
      readonly kind: 'hunt'
      readonly system: System
      readonly kept: readonly KeptRecord[]
      readonly units: DisplayUnits
    }
  /** The set-ups that close the ledger, at this time; as a sheet for the wall where a program version is given. */
  | {
      readonly kind: 'campaign'
      readonly system: System
      readonly kept: readonly KeptRecord[]
      readonly now: Date
      readonly programVersion: string | null
    }
  /** A record, or all of them, as a sealed PDF. */
  | {
      readonly kind: 'report'
      readonly folder: string
      readonly kept: KeptRecord
      readonly programVersion: string
    }
  | {
      readonly kind: 'dossier'
      readonly folder: string
      readonly kept: readonly KeptRecord[]
      readonly system: { readonly name: string; readonly text: string }
      readonly programVersion: string
    }
  | { readonly kind: 'csv' | 'marks'; readonly path: string; readonly systemText: string }
  | {
      readonly kind: 'columns'
      readonly path: string
      readonly systemText: string
      readonly fromS: number
      readonly toS: number
      readonly points: number
    }

export type Answer =
  | { readonly ask: number; readonly ok: true; readonly value: unknown }
  | { readonly ask: number; readonly ok: false; readonly message: string }

/** A thread that had nothing to do for so long is ended, and with it what it holds in memory; the next order starts another, [ms]. */
const idleMs = 120_000

/**
 * The analysis on a thread of its own: a fit takes a good part of a second, reading a day's recording some seconds,
 * and neither may hold up the samples that arrive meanwhile.
 */
export class AnalysisThread {
  readonly #idleMs: number
  #worker: Worker | null = null
  /** A hold is running: the thread holds its readings. */
  #holds = false
  #idle: NodeJS.Timeout | null = null
  #asked = 0
  readonly #waiting = new Map<number, { resolve: (value: unknown) => void; reject: (error: Error) => void }>()

  constructor(endAfterMs = idleMs) {
    this.#idleMs = endAfterMs
  }

  /** True while a thread runs, whether or not it has anything to do. */
  get running(): boolean {
    return this.#worker !== null
  }

  begin(system: System, name: string, startNs: string): void {
    this.#holds = true
    this.#send({ kind: 'begin', system, name, startNs })
  }

  append(channels: Readonly<Record<string, SampleColumns>>): void {
    this.#send({ kind: 'append', channels })
  }

  /** The hold is over: what was appended is let go. */
  end(): void {
    if (!this.#holds) return
    this.#holds = false
    this.#send({ kind: 'end' })
  }

  /** Null before the hold can be analyzed at all. */
  look(hold: string, marks: readonly Mark[]): Promise<HoldAnalysis | null> {
    return this.#ask({ kind: 'look', hold, marks }) as Promise<HoldAnalysis | null>
  }

  analyze(path: string, name: string, systemText: string): Promise<HoldAnalysis[]> {
    return this.#ask({ kind: 'analyze', path, name, systemText }) as Promise<HoldAnalysis[]>
  }

  /** Null when the system has no such hold. */
  plan(system: System, hold: string, units: DisplayUnits): Promise<Plan | null> {
    return this.#ask({ kind: 'plan', system, hold, units }) as Promise<Plan | null>
  }

  /** Null when this program cannot compute it again. */
  recompute(
    record: SealedRecord,
    path: string | null,
    takenBack: TakenBack,
  ): Promise<RecomputedAnalysis | null> {
    return this.#ask({ kind: 'recompute', record, path, takenBack }) as Promise<RecomputedAnalysis | null>
  }

  ledger(system: System, kept: readonly KeptRecord[]): Promise<Ledger> {
    return this.#ask({ kind: 'ledger', system, kept }) as Promise<Ledger>
  }

  history(system: System, kept: readonly KeptRecord[]): Promise<HistoryHold[]> {
    return this.#ask({ kind: 'history', system, kept }) as Promise<HistoryHold[]>
  }

  hunt(system: System, kept: readonly KeptRecord[], units: DisplayUnits): Promise<HuntResult> {
    return this.#ask({ kind: 'hunt', system, kept, units }) as Promise<HuntResult>
  }

  campaign(system: System, kept: readonly KeptRecord[], now: Date): Promise<Campaign> {
    return this.#ask({ kind: 'campaign', system, kept, now, programVersion: null }) as Promise<Campaign>
  }

  campaignSheet(
    system: System,
    kept: readonly KeptRecord[],
    now: Date,
    programVersion: string,
  ): Promise<Uint8Array> {
    return this.#ask({ kind: 'campaign', system, kept, now, programVersion }) as Promise<Uint8Array>
  }

  /** @param folder of the archive, whose key seals the PDF */
  report(folder: string, kept: KeptRecord, programVersion: string): Promise<Uint8Array> {
    return this.#ask({ kind: 'report', folder, kept, programVersion }) as Promise<Uint8Array>
  }

  dossier(
    folder: string,
    kept: readonly KeptRecord[],
    system: { readonly name: string; readonly text: string },
    programVersion: string,
  ): Promise<Uint8Array> {
    return this.#ask({ kind: 'dossier', folder, kept, system, programVersion }) as Promise<Uint8Array>
  }

  /** A recording as comma-separated text. */
  csv(path: string, systemText: string): Promise<Uint8Array> {
    return this.#ask({ kind: 'csv', path, systemText }) as Promise<Uint8Array>
  }

  /** Everything that was marked in a recording. */
  marks(path: string, systemText: string): Promise<RecordMarks> {
    return this.#ask({ kind: 'marks', path, systemText }) as Promise<RecordMarks>
  }

  columns(
    path: string,
    systemText: string,
    fromS: number,
    toS: number,
    points: number,
  ): Promise<MinMaxColumns[]> {
    return this.#ask({ kind: 'columns', path, systemText, fromS, toS, points }) as Promise<MinMaxColumns[]>
  }

  async close(): Promise<void> {
    if (this.#idle) clearTimeout(this.#idle)
    const worker = this.#worker
    this.#worker = null
    await worker?.terminate()
  }

  #ask(order: Order): Promise<unknown> {
    const ask = ++this.#asked
    return new Promise((resolve, reject) => {
      this.#waiting.set(ask, { resolve, reject })
      this.#send({ ...order, ask })
      this.#worker?.ref()
    })
  }

  #send(order: Order & { ask?: number }): void {
    this.#worker ??= this.#start()
    this.#worker.postMessage(order)
    this.#endWhenIdle()
  }

  #start(): Worker {
    const worker = startWorker()
    worker.unref()
    worker.on('message', (answer: Answer) => {
      const waiting = this.#waiting.get(answer.ask)
      this.#waiting.delete(answer.ask)
      if (answer.ok) waiting?.resolve(answer.value)
      else waiting?.reject(new Error(answer.message))
      if (this.#waiting.size === 0) worker.unref()
      this.#endWhenIdle()
    })
    worker.on('error', (error) => this.#ended(worker, error))
    worker.on('exit', () => this.#ended(worker, new Error('the analysis was stopped')))
    return worker
  }

  #endWhenIdle(): void {
    if (this.#idle) clearTimeout(this.#idle)
    this.#idle = setTimeout(() => {
      if (this.#waiting.size > 0 || this.#holds) return
      const worker = this.#worker
      this.#worker = null
      void worker?.terminate()
    }, this.#idleMs)
    this.#idle.unref()
  }

  #ended(worker: Worker, error: Error): void {
    // What waits was asked of a later one.
    if (this.#worker !== null && this.#worker !== worker) return
    this.#worker = null
    for (const { reject } of this.#waiting.values()) reject(error)
    this.#waiting.clear()
  }
}

/** Beside this file in the sources, beside or above it once built. */
function startWorker(): Worker {
  if (import.meta.url.endsWith('.ts')) {
    // From the sources the thread needs the same loader as the program; it has to be registered inside the thread.
    const source = new URL('./analysis-worker.ts', import.meta.url)
    const loader = import.meta.resolve('tsx/esm/api')
    const code = `import('${loader}').then(({ register }) => { register(); return import('${source}') })`
    return new Worker(code, { eval: true })
  }
  const candidates = ['./analysis-worker.js', '../analysis-worker.js']
  const found = candidates
    .map((path) => new URL(path, import.meta.url))
    .find((url) => existsSync(fileURLToPath(url)))
  if (!found) throw new Error('analysis-worker.js is missing beside the program: run npm run build')
  return new Worker(found)
}
