import type { Worker } from 'node:worker_threads'
import { startThread } from '#dashboard/archive/start-thread.ts'
import type { Answer, Order, Tasks } from './analysis-worker.ts'

/** Tasks about the running hold, which the thread does without an answer. */
type Told = 'begin' | 'append' | 'end'

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

  /** Tells it of the running hold: it begins, more readings came, it is over. */
  tell<K extends Told>(kind: K, ...given: Parameters<Tasks[K]>): void {
    if (kind === 'end' && !this.#holds) return
    this.#holds = kind !== 'end'
    this.#send({ kind, given })
  }

  ask<K extends Exclude<keyof Tasks, Told>>(
    kind: K,
    ...given: Parameters<Tasks[K]>
  ): Promise<Awaited<ReturnType<Tasks[K]>>> {
    const ask = ++this.#asked
    return new Promise((resolve, reject) => {
      this.#waiting.set(ask, { resolve: resolve as (value: unknown) => void, reject })
      this.#send({ kind, given, ask })
      this.#worker?.ref()
    })
  }

  async close(): Promise<void> {
    if (this.#idle) clearTimeout(this.#idle)
    const worker = this.#worker
    this.#worker = null
    await worker?.terminate()
  }

  #send(order: Order): void {
    this.#worker ??= this.#start()
    this.#worker.postMessage(order)
    this.#endWhenIdle()
  }

  #start(): Worker {
    const worker = startThread(import.meta.url, 'analysis-worker')
    worker.unref()
    worker.on('message', (answer: Answer) => {
      const waiting = this.#waiting.get(answer.ask)
      this.#waiting.delete(answer.ask)
      if (answer.fault === undefined) waiting?.resolve(answer.value)
      else waiting?.reject(new Error(answer.fault))
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

/**
 * Answers by key, made once: those asked for last are kept. A rehearsal takes seconds of a thread, and so does a long
 * recording, and a page asks again and again.
 */
export class AnswerCache<T> {
  readonly #atMost: number
  /** The one asked for last at the end. */
  readonly #known = new Map<string, Promise<T>>()

  constructor(atMost: number) {
    this.#atMost = atMost
  }

  of(key: string, make: () => Promise<T>): Promise<T> {
    const made = this.#known.get(key) ?? make()
    this.#known.delete(key)
    this.#known.set(key, made)
    const [oldest] = this.#known.keys()
    if (this.#known.size > this.#atMost && oldest !== undefined) this.#known.delete(oldest)
    // What failed or could not be computed may work the next time, such as after a recording was put back.
    const forget = () => this.#known.delete(key)
    made.then((answer) => answer ?? forget(), forget)
    return made
  }
}
