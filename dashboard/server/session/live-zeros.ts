import type { Mark } from '#analysis/model/samples.ts'
import { type Channel, isNamed } from '#analysis/model/system.ts'
import { applyZeroMarks } from '#ingest/recording/apply-zero-marks.ts'

/** More than any session has; a stream of marks from a broken logger must not fill the memory. */
const keptAtMost = 2000

/** Captures of zero and span on live readings: the very rule by which a recording is read, not a second one. */
export class LiveZeros {
  /** Captures, and the stages that tell whether one fell into a hold. */
  readonly #marks: Mark[] = []
  readonly #captured = new Set<string>()

  add(mark: Mark): void {
    if (mark.kind !== 'zero' && mark.kind !== 'stage') return
    // Of stages on end only the last tells whether the capture after it falls into a hold.
    if (mark.kind === 'stage' && this.#marks.at(-1)?.kind === 'stage') this.#marks.pop()
    this.#marks.push(mark)
    if (this.#marks.length > keptAtMost) this.#marks.splice(0, keptAtMost / 2)
    if (mark.kind === 'zero' && mark.id !== null) this.#captured.add(mark.id)
  }

  has(channel: Channel): boolean {
    return [...this.#captured].some((id) => isNamed(channel, id))
  }

  /** Readings with the captures applied; the given ones are left as they are. */
  applied(channel: Channel, timeS: ArrayLike<number>, reading: ArrayLike<number>): Float64Array {
    const values = Float64Array.from(reading)
    if (this.has(channel)) applyZeroMarks(channel, { timeS: Float64Array.from(timeS), values }, this.#marks)
    return values
  }

  one(channel: Channel, timeS: number, reading: number): number {
    return this.has(channel) ? this.applied(channel, [timeS], [reading])[0] : reading
  }
}
