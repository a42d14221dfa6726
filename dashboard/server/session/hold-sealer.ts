import { join } from 'node:path'
import type { HoldResult } from '#analysis/model/hold-result.ts'
import type { LiveState } from '#dashboard/api.ts'
import { type HoldNote, photosOf } from './hold-note.ts'
import type { SessionCore } from './session-core.ts'

/** The recording cannot be analyzed or does not contain the hold to be sealed: a retry would not help. */
class Unsealable extends Error {}

interface Waiting {
  readonly note: HoldNote
  readonly remark: string | null
  failedAnalyses: number
  /** Why it cannot be sealed: only its note remains to be set aside. */
  unsealable: string | null
}

/** Delay before a retry, [ms]. */
const tryAgainMs = 2000

/** Attempts at the analysis of one hold before it is set aside. */
const analyzeAtMost = 3

/**
 * Has the recordings of ended holds analyzed and seals the results in order. A hold that cannot be sealed now,
 * such as on a full disk, waits for a retry.
 */
export class HoldSealer {
  /** The hold sealed last. */
  last: LiveState['last'] = null
  /** Why an ended hold is not in the archive yet; null when all are. */
  trouble: string | null = null
  /** Why the last hold cannot be sealed; null when it has a record or waits for one. */
  setAside: string | null = null
  readonly #core: SessionCore
  readonly #holdRuns: () => boolean
  #waiting: Waiting[] = []
  #sealing: Promise<void> | null = null
  #closed = false

  constructor(core: SessionCore, holdRuns: () => boolean) {
    this.#core = core
    this.#holdRuns = holdRuns
  }

  get busy(): boolean {
    return this.#sealing !== null || this.#waiting.length > 0
  }

  /** @param remark why the hold was aborted; null after a normal end */
  add(note: HoldNote, remark: string | null): void {
    this.#waiting.push({ note, remark, failedAnalyses: 0, unsealable: null })
    this.setAside = null
    this.next()
  }

  /** Resolves when no sealing is in progress; none starts after that. */
  async close(): Promise<void> {
    this.#closed = true
    await this.#sealing
  }

  /** Seals the oldest waiting hold; does nothing while one is being sealed. */
  next(): void {
    const [next] = this.#waiting
    if (!next || this.#sealing || this.#closed) return
    this.#sealing = this.#settle(next)
      .then(() => {
        this.#waiting.shift()
        this.trouble = null
      })
      .catch((error: Error) => {
        if (this.trouble !== error.message) this.#core.log(error.message)
        this.trouble = error.message
        return new Promise<void>((resolve) => setTimeout(resolve, tryAgainMs).unref())
      })
      .finally(() => {
        this.#sealing = null
        this.#core.changed()
      })
  }

  /** Sealed or set aside. @throws Error with one plain sentence when it must be retried */
  async #settle(waiting: Waiting): Promise<void> {
    if (waiting.unsealable === null) {
      try {
        this.last = await this.#seal(waiting)
        this.#clearNote()
        return
      } catch (error) {
        if (!(error instanceof Unsealable)) throw error
        waiting.unsealable = error.message
      }
    }
    try {
      this.#core.note.setAside(waiting.note)
    } catch (error) {
      throw new Error(`${waiting.unsealable}; nor can it be set aside: ${(error as Error).message}`)
    }
    this.setAside = waiting.unsealable
    this.#core.log(waiting.unsealable)
  }

  /** A failure here is harmless: the next start finds the hold in the archive. */
  #clearNote(): void {
    if (this.#holdRuns()) return
    try {
      this.#core.note.clear()
    } catch (error) {
      this.#core.log(`the note of the sealed hold cannot be removed: ${(error as Error).message}`)
    }
  }

  async #seal(waiting: Waiting): Promise<LiveState['last']> {
    const { note, remark } = waiting
    const { archive, recording, thread, log } = this.#core
    const path = join(recording.folder, note.recording)
    recording.sync()
    const analyses = await thread
      .ask('analyze', path, note.recording, note.systemText)
      .catch((error: Error) => {
        const message = `${note.recording} cannot be analyzed, its hold is not sealed: ${error.message}`
        // A hold that crashes the analysis must not stop the bench: it is set aside, and its recording is kept.
        throw ++waiting.failedAnalyses < analyzeAtMost ? new Error(message) : new Unsealable(message)
      })
    const analysis = analyses.findLast((each) => each.result.hold === note.hold)
    if (!analysis)
      throw new Unsealable(`${note.recording} shows no hold ${note.hold}: look at it with stillhold analyze`)
    const result = withoutFalsePass(analysis.result, note, remark)
    const sealed = archive.seal({
      kind: 'hold',
      recordingPath: path,
      systemText: note.systemText,
      systemName: this.#systemName(note),
      result,
      operator: note.operator,
      witness: note.witness,
      photos: photosOf(recording.folder, note.photos ?? []),
      note: remark,
      corrects: null,
      retests: note.retests,
      origins: analysis.origins ?? null,
    })
    log(`${sealed.id}: ${result.verdict}`)
    return { record: sealed.id, result }
  }

  #systemName(note: HoldNote): string {
    const { system, text } = this.#core.systemFile
    return text === note.systemText
      ? system.name
      : (/^name:\s*(.+)$/m.exec(note.systemText)?.[1] ?? 'unnamed')
  }
}

/**
 * A hold that was aborted before its vent never passes, whatever the curve shows: the response of the gauge
 * was not observed. A second guard: the analysis decides the same.
 */
function withoutFalsePass(result: HoldResult, note: HoldNote, remark: string | null): HoldResult {
  if (result.verdict !== 'pass' || (note.begun.vent !== undefined && remark === null)) return result
  const message = remark ?? 'the hold ended without a vent: the gauge was not seen to answer'
  return { ...result, verdict: 'void', reasons: [{ code: 'interrupted', message }, ...result.reasons] }
}
