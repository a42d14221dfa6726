import type { Mark, MarkKind } from '#analysis/model/samples.ts'
import type { SessionMarks } from './session-marks.ts'
import type { SessionRecording } from './session-recording.ts'

/** A recording without a hold is ended after this bench time, [s]. */
const oldAfterS = 1800
/** One with marks, which the next hold needs, is ended when it has grown to this as well, [bytes]: 18 hours at 1 kB/s. */
const largeBytes = 64e6

/** What a person does at the bench between holds: it belongs into the recording of the hold that comes after it. */
const byHand: readonly MarkKind[] = ['valve', 'work', 'look', 'zero', 'plug', 'fill', 'stroke', 'correction']

/**
 * Ends recordings in which no hold runs, so that the recording of a hold, which is sealed, read and printed in whole,
 * stays small however long the session is.
 */
export class IdleRecording {
  readonly #recording: Pick<SessionRecording, 'rotate' | 'mark' | 'sizeBytes'>
  readonly #marks: Pick<SessionMarks, 'since'>
  #beganS = 0

  constructor(
    recording: Pick<SessionRecording, 'rotate' | 'mark' | 'sizeBytes'>,
    marks: Pick<SessionMarks, 'since'>,
  ) {
    this.#recording = recording
    this.#marks = marks
  }

  /**
   * To be called now and then while no hold runs. Marks made by hand since the last hold are written at the head of the
   * next recording again, at their own time.
   *
   * @param nowS bench time; @param lastHoldEndedS when a hold ended its recording last, minus infinity before
   */
  endWhenOld(nowS: number, lastHoldEndedS: number): void {
    this.#beganS = Math.max(this.#beganS, lastHoldEndedS)
    if (nowS < this.#beganS) this.#beganS = nowS
    if (nowS - this.#beganS < oldAfterS) return
    const carried = this.#marks.since(lastHoldEndedS + 1e-6).filter(isByHand)
    const newest = carried.at(-1)
    // Work that goes on, such as filling a tank step by step, stays in one file.
    const goesOn = newest !== undefined && nowS - newest.timeS < oldAfterS
    if (goesOn || (newest !== undefined && this.#recording.sizeBytes < largeBytes)) return
    this.#recording.rotate()
    this.#beganS = nowS
    for (const { kind, id, from, fields, timeNs } of carried)
      this.#recording.mark(
        { kind, fields, ...(id !== null && { id }), ...(from && { from }) },
        BigInt(timeNs),
      )
  }
}

/** Notes of the program's own name the port that they are about. */
function isByHand({ kind, fields }: Mark): boolean {
  return byHand.includes(kind) || (kind === 'note' && fields.port === undefined)
}
