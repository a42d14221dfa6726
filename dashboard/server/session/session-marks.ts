import type { MarkMaker } from '#analysis/model/origin.ts'
import type { Mark, MarkKind } from '#analysis/model/samples.ts'
import type { LiveState } from '#dashboard/api.ts'
import { textOf } from '#dashboard/archive/mark-words.ts'
import { withoutCorrected } from '#ingest/recording/corrected-marks.ts'

/** Marks told to the page; the recording keeps them all. */
const shownAtMost = 200
/** Marks kept for looks at the running hold. */
const keptAtMost = 5000

/** The marks of the running session, as the page and the looks at a hold need them. */
export class SessionMarks {
  #marks: Mark[] = []

  add(mark: Mark): void {
    this.#marks.push(mark)
    if (this.#marks.length > keptAtMost) this.#marks = this.#marks.slice(-keptAtMost / 2)
  }

  /** The marks that stand from a time on, with the corrections among them. */
  since(timeS: number): Mark[] {
    return withoutCorrected(this.#marks).filter((mark) => mark.timeS >= timeS)
  }

  /** The mark of that moment, epoch nanoseconds; a correction finds its mark by it. */
  at(timeNs: string): Mark | undefined {
    return withoutCorrected(this.#marks).findLast(
      (mark) => mark.timeNs === timeNs && mark.kind !== 'correction',
    )
  }

  /** This moment or the next one that no mark has: two marks must not share the time that names them. */
  unusedNs(timeNs: bigint): bigint {
    const used = new Set(this.#marks.map((mark) => mark.timeNs))
    let free = timeNs
    while (used.has(String(free))) free += 1n
    return free
  }

  shown(): LiveState['marks'] {
    const stand = withoutCorrected(this.#marks).filter(({ kind }) => kind !== 'correction')
    return stand.slice(-shownAtMost).map((mark) => ({
      ns: mark.timeNs,
      timeS: mark.timeS,
      kind: mark.kind,
      id: mark.id,
      text: textOf(mark),
    }))
  }
}

export interface NewSessionMark {
  readonly kind: MarkKind
  readonly id?: string
  readonly hold?: string
  /** Absent for the program's own marks. */
  readonly from?: MarkMaker
  readonly fields: Readonly<Record<string, string | number | boolean>>
}
