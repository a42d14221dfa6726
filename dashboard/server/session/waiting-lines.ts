import type { RecordingWriter } from '#ingest/recording/recording-writer.ts'

/** As much as the writer itself keeps of what the disk refuses, [bytes]. */
const mostBytes = 16 << 20
/** What an entry costs beside its text, [bytes]. */
const entryBytes = 200

export interface WaitingLine {
  /** File name of the recording that it belongs to. */
  readonly name: string
  write(writer: RecordingWriter): void
}

/** What came while no recording could be opened, in its order, up to a bound; what is more is counted. */
export class WaitingLines {
  readonly #mostBytes: number
  #lines: WaitingLine[] = []
  #at = 0
  #bytes = 0
  #lost = 0

  constructor(bound = mostBytes) {
    this.#mostBytes = bound
  }

  get count(): number {
    return this.#lines.length - this.#at
  }

  /** Lines that came when no more could wait, since this was asked to forget them last. */
  get lost(): number {
    return this.#lost
  }

  /** The oldest; null when none waits. */
  get first(): WaitingLine | null {
    return this.#lines[this.#at] ?? null
  }

  /** @param sizeBytes about how much it keeps in memory */
  add(line: WaitingLine, sizeBytes: number): void {
    if (this.#bytes + sizeBytes + entryBytes > this.#mostBytes) {
      this.#lost++
      return
    }
    this.#lines.push(line)
    this.#bytes += sizeBytes + entryBytes
  }

  /** The oldest is written. */
  dropFirst(): void {
    this.#at++
    if (this.first !== null) return
    this.#lines = []
    this.#at = 0
    this.#bytes = 0
  }

  /** The lost ones are told. */
  forgetLost(): void {
    this.#lost = 0
  }
}
