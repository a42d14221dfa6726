import type { Origin } from '#analysis/model/origin.ts'
import type { NewSessionMark } from './session-marks.ts'

/** Says in each recording where the readings of each channel come from: a mark at the first reading of each source. */
export class OriginMarks {
  #recording: string | null = null
  #said = new Set<string>()

  /** The mark to be written for this reading of a channel; null when the recording says it already. */
  saw(recording: string | null, channel: string, origin: Origin): NewSessionMark | null {
    if (recording !== this.#recording) {
      this.#recording = recording
      this.#said = new Set()
    }
    const key = `${channel}\n${origin.kind}\n${origin.name}`
    if (this.#said.has(key)) return null
    this.#said.add(key)
    const { kind, name, sha256 } = origin
    const fields = { source: kind, ...(name !== null && { name }), ...(sha256 !== null && { sha256 }) }
    return { kind: 'origin', ...(channel !== '' && { id: channel }), fields }
  }
}
