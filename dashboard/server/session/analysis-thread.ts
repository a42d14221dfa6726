import type { Worker } from 'node:worker_threads'
import { startThread } from '#dashboard/archive/start-thread.ts'
import type { Answer, Order, Tasks } from './analysis-worker.ts'

/** Tasks about the running hold, which have no answer. */
type Notice = 'begin' | 'append' | 'end'

/** A thread that is idle this long is ended to free its memory; the next order starts another, [ms]. */
const idleMs = 120_000

/**
 * Runs the analysis on its own thread: a fit takes up to a second, a day's recording several seconds,
 * and neither may delay incoming samples.
 */
export class AnalysisThread {
  readonly #idleMs: number
  #worker: Worker | null = null
  /** A hold is running: the thread keeps its readings. */
  #holds = false
  #idle: NodeJS.Timeout | null = null
  #asked = 0
  readonly #waiting = new Map<number, { resolve: (value: unknown) => void; reject: (error: Error) => void }>()

  constructor(endAfterMs = idleMs) {
    this.#idleMs = endAfterMs
  }

  /** True while a thread runs, idle or not. */
  get running(): boolean {
    return this.#worker !== null
  }

  /** Forwards the running hold to the thread: start, new readings, end. */
  tell<K extends Notice>(kind: K, ...given: Parameters<Tasks[K]>): void {
    if (kind === 'end' && !this.#holds) return
    this.#holds = kind !== 'end'
    this.#send({ kind, given })
  }

  ask<K extends Exclude<keyof Tasks, Notice>>(
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
    // Pending orders belong to a later thread.
    if (this.#worker !== null && this.#worker !== worker) return
    this.#worker = null
    for (const { reject } of this.#waiting.values()) reject(error)
    this.#waiting.clear()
  }
}

/**
 * Memoized answers by key, least recently used dropped first. A rehearsal or a long recording takes seconds, and the
 * page repeats its requests.
 */
export class AnswerCache<T> {
  readonly #atMost: number
  /** The most recently used is last. */
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
    // Failures are not cached: they may succeed later, such as after a recording was restored.
    const forget = () => this.#known.delete(key)
    made.then((answer) => answer ?? forget(), forget)
    return made
  }
}
