import type { Origin } from '#analysis/model/origin.ts'
import type { Channel } from '#analysis/model/system.ts'
import type { NewSessionMark } from './session-marks.ts'

/** Says in each recording where the readings of each channel come from: a mark at the first reading of each source. */
export class OriginMarks {
  #recording: string | null = null
  #said = new Set<string>()

  /** The mark to be written for this reading of a channel; null when the recording says it already. */
  update(recording: string | null, channel: string, origin: Origin): NewSessionMark | null {
    if (!this.#isNew(recording, `${channel}\n${origin.kind}\n${origin.name}`)) return null
    const { kind, name, sha256 } = origin
    const fields = { source: kind, ...(name !== null && { name }), ...(sha256 !== null && { sha256 }) }
    return { kind: 'origin', ...(channel !== '' && { id: channel }), fields }
  }

  /** The same of the section that a gauge which is moved is on: each recording says it itself. */
  placed(recording: string | null, { movable, section, id }: Channel): NewSessionMark | null {
    if (movable === undefined || section === null || !this.#isNew(recording, id)) return null
    return { kind: 'place', id: movable.id, fields: { section } }
  }

  #isNew(recording: string | null, said: string): boolean {
    if (recording !== this.#recording) {
      this.#recording = recording
      this.#said = new Set()
    }
    if (this.#said.has(said)) return false
    this.#said.add(said)
    return true
  }
}
