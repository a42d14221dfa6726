import type { TakenBack } from '#dashboard/archive/recompute-hold.ts'
import type { SealedRecord } from '#dashboard/archive/record.ts'
import type { AnalysisThread, RecomputedAnalysis } from './analysis-thread.ts'

/** As many as a person goes back and forth between. */
const keptAtMost = 8

/** The records opened last, computed again once: a sealed record never changes, and a long recording takes seconds. */
export class AnalysisCache {
  readonly #thread: Pick<AnalysisThread, 'recompute'>
  /** By the record's signature, the one opened last at the end. */
  readonly #known = new Map<string, Promise<RecomputedAnalysis | null>>()

  constructor(thread: Pick<AnalysisThread, 'recompute'>) {
    this.#thread = thread
  }

  /** Null when this program cannot compute it again. */
  of(
    record: SealedRecord,
    path: string | null,
    takenBack: TakenBack = new Map(),
  ): Promise<RecomputedAnalysis | null> {
    const key = [record.signature, ...takenBack.keys()].join()
    const made = this.#known.get(key) ?? this.#thread.recompute(record, path, takenBack)
    this.#known.delete(key)
    this.#known.set(key, made)
    for (const oldest of this.#known.keys()) {
      if (this.#known.size <= keptAtMost) break
      this.#known.delete(oldest)
    }
    // What failed once may work the next time, such as after a recording was put back.
    made.then(
      (analysis) => analysis ?? this.#known.delete(key),
      () => this.#known.delete(key),
    )
    return made
  }
}
