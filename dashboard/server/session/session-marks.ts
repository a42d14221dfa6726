import type { MarkMaker, Origin } from '#analysis/model/origin.ts'
import type { Mark, MarkKind } from '#analysis/model/samples.ts'
import type { Channel } from '#analysis/model/system.ts'
import type { LiveState } from '#dashboard/api.ts'
import { textOf } from '#dashboard/archive/record-words.ts'
import { withoutCorrected } from '#ingest/recording/corrected-marks.ts'

/** Marks sent to the page; the recording keeps them all. */
const shownAtMost = 200
/** Marks kept for looks at the running hold. */
const keptAtMost = 5000

/** The marks of the running session, for the page and for looks at a hold. */
export class SessionMarks {
  #marks: Mark[] = []

  add(mark: Mark): void {
    this.#marks.push(mark)
    if (this.#marks.length > keptAtMost) this.#marks = this.#marks.slice(-keptAtMost / 2)
  }

  /** The valid marks from a time on, with the corrections among them. */
  since(timeS: number): Mark[] {
    return withoutCorrected(this.#marks).filter((mark) => mark.timeS >= timeS)
  }

  /** The mark of that time, epoch nanoseconds; a correction refers to its mark by this time. */
  at(timeNs: string): Mark | undefined {
    return withoutCorrected(this.#marks).findLast(
      (mark) => mark.timeNs === timeNs && mark.kind !== 'correction',
    )
  }

  /** This time or the next free one: the time identifies a mark, so two marks must not share it. */
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

/** Records the source of each channel's readings: a mark at the first reading of each source. */
export class OriginMarks {
  #recording: string | null = null
  #marked = new Set<string>()

  /** The mark for this reading of a channel; null when the recording already has it. */
  update(recording: string | null, channel: string | null, origin: Origin): NewSessionMark | null {
    if (!this.#isNew(recording, `${channel}\n${origin.kind}\n${origin.name}`)) return null
    const { kind, name, sha256 } = origin
    const fields = { source: kind, ...(name !== null && { name }), ...(sha256 !== null && { sha256 }) }
    return { kind: 'origin', ...(channel !== null && { id: channel }), fields }
  }

  /** The same for the section of a movable gauge: each recording states it. */
  placed(recording: string | null, { movable, section, id }: Channel): NewSessionMark | null {
    if (movable === undefined || section === null || !this.#isNew(recording, id)) return null
    return { kind: 'place', id: movable.id, fields: { section } }
  }

  #isNew(recording: string | null, key: string): boolean {
    if (recording !== this.#recording) {
      this.#recording = recording
      this.#marked = new Set()
    }
    if (this.#marked.has(key)) return false
    this.#marked.add(key)
    return true
  }
}
