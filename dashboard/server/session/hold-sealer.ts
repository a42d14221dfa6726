import { join } from 'node:path'
import type { HoldResult } from '#analysis/model/hold-result.ts'
import type { LiveState } from '#dashboard/api.ts'
import { type HoldNote, photosOf } from './hold-note.ts'
import type { SessionCore } from './session-core.ts'

/** The recording cannot be analyzed or does not show the hold that was to be sealed: trying again would not help. */
class Unsealable extends Error {}

interface Waiting {
  readonly note: HoldNote
  readonly remark: string | null
  failedAnalyses: number
  /** It cannot be sealed and why: only its note is still to be set aside. */
  unsealable: string | null
}

/** Before what could not be done is tried again, [ms]. */
const tryAgainMs = 2000

/** Attempts at the analysis of one hold before it is set aside. */
const analyzeAtMost = 3

/**
 * Has the recordings of ended holds analyzed and seals the results, one after the other. What cannot be sealed now,
 * such as on a full disk, waits and is tried again.
 */
export class HoldSealer {
  /** The hold that was sealed last. */
  last: LiveState['last'] = null
  /** Why an ended hold is not in the archive yet; null when all are. */
  trouble: string | null = null
  /** Why the last hold never gets a record; null when it has one or waits for it. */
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

  /** @param remark why the hold was broken off; null when it ended as it should */
  add(note: HoldNote, remark: string | null): void {
    this.#waiting.push({ note, remark, failedAnalyses: 0, unsealable: null })
    this.setAside = null
    this.next()
  }

  /** Resolves when nothing is being sealed; nothing is begun after that. */
  async close(): Promise<void> {
    this.#closed = true
    await this.#sealing
  }

  /** Seals the oldest that waits; does nothing while one is being sealed. */
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

  /** One way or the other: sealed, or set aside. @throws Error with one plain sentence when it is to be tried again */
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

  /** What stays behind when this fails does no harm: the next start finds the hold in the archive. */
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
        // A hold that stops the analysis must not stop the bench: it is set aside, and its recording is kept.
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
 * A hold that was broken off before its vent never passes, whatever the curve shows up to there: nobody saw the gauge
 * answer. The analysis says so too; this holds should it ever miss it.
 */
function withoutFalsePass(result: HoldResult, note: HoldNote, remark: string | null): HoldResult {
  if (result.verdict !== 'pass' || (note.begun.vent !== undefined && remark === null)) return result
  const message = remark ?? 'the hold ended without a vent: the gauge was not seen to answer'
  return { ...result, verdict: 'void', reasons: [{ code: 'interrupted', message }, ...result.reasons] }
}
