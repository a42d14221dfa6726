import type { PortState } from '#dashboard/api.ts'

type Trouble = NonNullable<PortState['trouble']>

/** Bytes without a line after which the port is judged: some lines of any logger. */
const judgedAfterBytes = 400
/** Lines in a row that are no text. */
const garbledLines = 5
/** Above this part of bytes that no text has, the bit rate is wrong. */
const oddPart = 0.1

/** What a port delivers that becomes no reading, and what it most probably is. */
export class UnreadLines {
  /** Since the last line that could be read. */
  #bytes = 0
  #odd = 0
  #garbled = 0

  heard(bytes: Uint8Array): void {
    this.#bytes += bytes.length
    for (const byte of bytes) if (!isText(byte)) this.#odd++
  }

  /** A line was refused, and why. */
  refused(reason: string): void {
    if (/control characters|UTF-8|too long/.test(reason)) this.#garbled++
  }

  /** A line was read, or another baud rate begins. */
  restart(): void {
    this.#bytes = 0
    this.#odd = 0
    this.#garbled = 0
  }

  /**
   * @param columns names of the columns; null where the logger names its values itself
   * @param taken whether a channel of the system file uses one of them
   */
  trouble(
    { name, baudRate }: { readonly name: string; readonly baudRate: number | null },
    columns: readonly string[] | null,
    taken: boolean,
  ): Trouble | null {
    if (baudRate !== null && (this.#garbled >= garbledLines || this.#bytes > judgedAfterBytes)) {
      const isNoise = this.#garbled >= garbledLines || this.#odd > oddPart * this.#bytes
      return isNoise
        ? {
            code: 'baud-rate',
            baudRate,
            message: `${name} sends bytes that are no text: its baud rate is probably not ${baudRate}.`,
          }
        : {
            code: 'line-ends',
            baudRate,
            message: `${name} sends text without line ends: let the logger end each line with a line feed.`,
          }
    }
    if (columns === null || taken || !columns.every((column, i) => column === `c${i + 1}`)) return null
    return {
      code: 'header',
      columns: columns.length,
      message: `${name} sends ${columns.length} columns without names: its header line was probably missed.`,
    }
  }
}

const isText = (byte: number): boolean =>
  (byte >= 32 && byte < 127) || byte === 9 || byte === 10 || byte === 13
