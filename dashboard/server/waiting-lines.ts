import type { RecordingWriter } from '#ingest/recording/recording-writer.ts'

/** As much as the writer itself keeps of what the disk refuses, [bytes]. */
const mostBytes = 16 << 20
/** What an entry costs beside its text, [bytes]. */
const entryBytes = 200

/** What came while no recording could be opened, in its order, up to a bound; what is more is counted. */
export class WaitingLines {
  readonly #mostBytes: number
  #entries: ((writer: RecordingWriter) => void)[] = []
  #bytes = 0
  #lost = 0

  constructor(bound = mostBytes) {
    this.#mostBytes = bound
  }

  /** Lines that wait. */
  get count(): number {
    return this.#entries.length
  }

  /** Lines that came when no more could wait. */
  get lost(): number {
    return this.#lost
  }

  get isEmpty(): boolean {
    return this.#entries.length === 0 && this.#lost === 0
  }

  /** @param sizeBytes about how much it keeps in memory */
  add(entry: (writer: RecordingWriter) => void, sizeBytes: number): void {
    if (this.#bytes + sizeBytes + entryBytes > this.#mostBytes) {
      this.#lost++
      return
    }
    this.#entries.push(entry)
    this.#bytes += sizeBytes + entryBytes
  }

  /** Hands everything over and begins anew. */
  take(): { readonly entries: readonly ((writer: RecordingWriter) => void)[]; readonly lost: number } {
    const taken = { entries: this.#entries, lost: this.#lost }
    this.#entries = []
    this.#bytes = 0
    this.#lost = 0
    return taken
  }
}
