import { formatPoint } from '#ingest/line-protocol/format-point.ts'
import { longestLineBytes } from '#ingest/line-protocol/line-blocks.ts'
import { LineParser } from '#ingest/line-protocol/line-parser.ts'
import { type Field, type Point, seriesOf } from '#ingest/line-protocol/point.ts'
import { DialectDetector } from './dialects/detect-dialect.ts'
import {
  type Dialect,
  type DialectName,
  type DialectQuantity,
  describeDialect,
  type Reading,
} from './dialects/dialect.ts'
import { type LineReading, RepeatedLines } from './repeated-lines.ts'
import { checkCrc, sequenceFields } from './sequence.ts'

export type ReadOutcome =
  | { readonly kind: 'reading'; readonly reading: LineReading }
  | { readonly kind: 'header' }
  | { readonly kind: 'refused'; readonly reason: string }

/** Reads the lines of one logger: detects the dialect, then uses it for every line. */
export class LineReader {
  readonly #tags: Readonly<Record<string, string>> | null
  readonly #parser = new LineParser()
  readonly #detector: DialectDetector
  #name: DialectName | null = null
  #dialect: Dialect | null = null
  readonly #repeated = new RepeatedLines()
  /** Another possible meaning of the lines and how to select it; null when there is none. */
  doubt: string | null = null

  /** @param held earlier lines that wait for a dialect */
  constructor(
    only: DialectName | null,
    tags: Readonly<Record<string, string>>,
    held: readonly string[] = [],
  ) {
    const isPoint = (line: string) => this.#parser.parse(line, 0, true) === 'point'
    this.#detector = new DialectDetector({ isPoint, only })
    this.#tags = Object.keys(tags).length === 0 ? null : tags
    if (only === 'line-protocol') this.#name = only
    for (const line of held) this.hold(line)
  }

  get name(): DialectName | null {
    return this.#name
  }

  get decided(): boolean {
    return this.#name !== null
  }

  /** Names and units from the logger; empty for line protocol, which has no units. */
  get quantities(): readonly DialectQuantity[] {
    return this.#dialect?.quantities ?? []
  }

  describe(): string | null {
    return this.#dialect === null ? this.#name : describeDialect(this.#dialect)
  }

  /** Adds a line to detect the dialect from. */
  hold(line: string): void {
    this.#detector.add(line)
  }

  /** Discards the oldest held lines: they identify no dialect. */
  giveUp(count: number): void {
    this.#detector.drop(count)
  }

  /** Tries to detect the dialect from the held lines; `final`: no more lines will come. */
  decide(final: boolean): boolean {
    const detection = this.#detector.detect(final)
    if (detection === null) return false
    this.#name = detection.name
    this.#dialect = detection.dialect
    this.doubt = detection.doubt
    return true
  }

  read(line: string): ReadOutcome {
    const known = this.#repeated.read(line)
    if (known !== null) return { kind: 'reading', reading: known }
    const wrongCrc = checkCrc(line)
    if (wrongCrc !== null) return { kind: 'refused', reason: wrongCrc }
    if (this.#dialect === null) return this.#readPoint(line)
    const outcome = this.#dialect.read(line)
    if (outcome.kind !== 'reading') return outcome
    const point = this.#tagged(pointOf(outcome.reading))
    const read = written(point)
    if (read.kind === 'reading') {
      const dialect = this.#dialect
      // Made only for a line that may be learned: this takes as long as reading it.
      let fresh: Dialect | null = null
      this.#repeated.learn(line, point, (probe) => {
        fresh ??= dialect.again()
        const probed = fresh.read(probe)
        return probed.kind === 'reading' ? this.#tagged(pointOf(probed.reading)) : null
      })
    }
    return read
  }

  /** Whether two lines have the same names before their numbers; the tail of a line lacks the first name. */
  sameShape(a: LineReading, b: LineReading): boolean {
    // Line protocol, which needs no dialect, names every value too.
    const namesEachValue = this.#dialect?.namesEachValue ?? true
    return (
      namesEachValue &&
      seriesOf(a.point) === seriesOf(b.point) &&
      a.point.fields[0]?.key === b.point.fields[0]?.key
    )
  }

  #readPoint(line: string): ReadOutcome {
    const parser = this.#parser
    if (parser.parse(line, 0, true) !== 'point')
      return { kind: 'refused', reason: `${parser.cause}, column ${parser.causeAt + 1}` }
    const point = parser.point
    const tagged = this.#tagged(point)
    return tagged === point ? { kind: 'reading', reading: { point, text: line } } : written(tagged)
  }

  #tagged(point: Point): Point {
    if (this.#tags === null) return point
    return { ...point, tags: { ...this.#tags, ...point.tags } }
  }
}

/** A column name that line protocol cannot write is the logger's fault: the line is refused, nothing throws. */
function written(point: Point): ReadOutcome {
  try {
    const text = formatPoint(point)
    if (text.length > longestLineBytes / 3 && Buffer.byteLength(text) > longestLineBytes)
      return { kind: 'refused', reason: `as line protocol it is longer than ${longestLineBytes} bytes` }
    return { kind: 'reading', reading: { point, text } }
  } catch (error) {
    if (error instanceof RangeError) return { kind: 'refused', reason: error.message }
    throw error
  }
}

/** The logger's number of this line; null when it has none. */
export function sequenceNumber(point: Point): number | null {
  for (const field of point.fields) {
    if (!sequenceFields.includes(field.key)) continue
    if (field.type === 'float') return field.value
    if (field.type === 'integer' || field.type === 'unsigned') return Number(field.value)
  }
  return null
}

/** Numbers stay floats, so that 10 and 10.1 have one type; only a line number is an integer. */
function pointOf(reading: Reading): Point {
  const fields = Object.entries(reading.fields).map(([key, value]): Field => {
    if (typeof value === 'string') return { key, type: 'string', value }
    if (typeof value === 'boolean') return { key, type: 'boolean', value }
    if (sequenceFields.includes(key) && Number.isSafeInteger(value))
      return { key, type: 'integer', value: BigInt(value) }
    return { key, type: 'float', value }
  })
  return {
    measurement: reading.measurement,
    tags: reading.tags,
    fields,
    timeNs: reading.timeNs === null ? null : String(reading.timeNs),
  }
}
