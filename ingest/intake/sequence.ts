/** Evidence from a logger's line number about the lines before it. */
export interface SequenceStep {
  /** Numbers that never came. */
  readonly missing: number
  /** The logger restarted its counter. */
  readonly reset: boolean
}

/** Fields with a logger's line number. */
export const sequenceFields: readonly string[] = ['seq', 'sequence']

const follows: SequenceStep = { missing: 0, reset: false }
const counterSizes = [2 ** 8, 2 ** 16, 2 ** 32]
/** How near its end a counter must be, and how near zero its successor, for a wrap rather than a reset. */
const wrapWindow = 64

/** Maximum number of series tracked; a logger with more has a tag whose value changes all the time. */
const seriesAtMost = 10_000

/**
 * Follows a logger's numbering. Loggers number each series separately, all lines with one counter, or all lines of
 * one sample alike: a number is in sequence when it follows the last of its series or the last of the port.
 */
export class SequenceWatch {
  readonly #lastOfSeries = new Map<string, number>()
  #lastOfPort: number | null = null
  /** Numbers missing so far. */
  missing = 0

  next(series: string, number: number): SequenceStep {
    if (!Number.isSafeInteger(number) || number < 0) return follows
    const lastOfSeries = this.#lastOfSeries.get(series)
    const lastOfPort = this.#lastOfPort
    if (lastOfSeries === undefined && this.#lastOfSeries.size >= seriesAtMost)
      this.#lastOfSeries.delete(this.#lastOfSeries.keys().next().value!)
    this.#lastOfSeries.set(series, number)
    this.#lastOfPort = number
    if (lastOfPort === null) return follows
    const bySeries = lastOfSeries === undefined ? null : advance(lastOfSeries, number)
    const byPort = advance(lastOfPort, number)
    if (bySeries === 1 || byPort === 0 || byPort === 1) return follows
    const forward = [bySeries, byPort].filter((step) => step !== null && step > 1) as number[]
    if (forward.length > 0) {
      if (bySeries === null) return follows
      const missing = Math.min(...forward) - 1
      this.missing += missing
      return { missing, reset: false }
    }
    return bySeries === null || bySeries === 0 ? follows : { missing: 0, reset: true }
  }
}

/** Steps from one number to the next; a wrap of an 8, 16 or 32 bit counter counts as one step. */
function advance(last: number, next: number): number {
  if (next >= last) return next - last
  for (const size of counterSizes)
    if (last < size && last >= size - wrapWindow && next < wrapWindow) return size - last + next
  return next - last
}

/** Counts missing line numbers where lines come in any order: numbers between the ends that never came. */
export class SequenceSpan {
  readonly #spans = new Map<string, { low: number; high: number; count: number }>()

  update(series: string, number: number): void {
    if (!Number.isSafeInteger(number) || number < 0) return
    const span = this.#spans.get(series)
    if (span === undefined) {
      this.#spans.set(series, { low: number, high: number, count: 1 })
      return
    }
    span.low = Math.min(span.low, number)
    span.high = Math.max(span.high, number)
    span.count++
  }

  get missing(): number {
    let missing = 0
    for (const { low, high, count } of this.#spans.values()) missing += Math.max(0, high - low + 1 - count)
    return missing
  }
}

/** The last field of a line, with or without a timestamp after it. */
const marker = /^crc[=:]\s*(\d{1,5})i?\s*(?:-?\d{1,19})?$/

/**
 * CRC-16/CCITT-FALSE: polynomial 0x1021, start 0xFFFF, nothing reflected.
 *
 * Check: `123456789` gives 0x29B1 (published catalogues of CRC algorithms, from memory).
 */
export function crc16(text: string): number {
  let crc = 0xffff
  for (const byte of Buffer.from(text)) {
    crc ^= byte << 8
    for (let bit = 0; bit < 8; bit++)
      crc = crc & 0x8000 ? ((crc << 1) ^ 0x1021) & 0xffff : (crc << 1) & 0xffff
  }
  return crc
}

/**
 * Checks the optional `crc` after the other fields; it covers everything before it. A lost character turns
 * 101.3 into 11.3, and nothing else detects it.
 *
 * @returns null when it matches or there is none, else the reason to refuse the line.
 */
export function checkCrc(line: string): string | null {
  const at = line.lastIndexOf('crc')
  if (at === -1) return null
  const match = marker.exec(line.slice(at))
  const before = line.slice(0, at).trimEnd()
  // The checksum covers everything before the separator: a comma, a semicolon or the first space.
  const end = /[,;]$/.test(before) ? before.length - 1 : before.length
  if (match === null || end === at) return null
  return crc16(line.slice(0, end)) === Number(match[1]) ? null : 'its checksum does not match'
}
