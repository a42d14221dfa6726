import { mostFields } from '#ingest/line-protocol/point.ts'

/** How a logger writes its lines. Every dialect is converted to points of line protocol on arrival. */
export type DialectName =
  | 'line-protocol'
  | 'key-value'
  | 'json-lines'
  | 'csv'
  | 'csv-decimal-comma'
  | 'number'
  | 'number-decimal-comma'

export const dialectNames: readonly DialectName[] = [
  'line-protocol',
  'key-value',
  'json-lines',
  'csv',
  'csv-decimal-comma',
  'number',
  'number-decimal-comma',
]

export type ReadingValue = number | string | boolean

/** The content of one line of a foreign dialect, before it becomes a point. */
export interface Reading {
  readonly measurement: string
  readonly tags: Readonly<Record<string, string>>
  readonly fields: Readonly<Record<string, ReadingValue>>
  /** The logger's own epoch time, [ns]; null when the line has none: the arrival time is used. */
  readonly timeNs: bigint | null
}

/** A line that was read, or the reason it was refused. `header` is a line that names columns and has no reading. */
export type LineOutcome =
  | { readonly kind: 'reading'; readonly reading: Reading }
  | { readonly kind: 'header' }
  | { readonly kind: 'refused'; readonly reason: string }

/** One named quantity of the logger and the unit beside it; null when there is none. */
export interface DialectQuantity {
  readonly name: string
  readonly unit: string | null
}

/** A dialect fixed to one logger: its columns, its decimal sign, its clock. */
export interface Dialect {
  readonly name: DialectName
  /**
   * Every line has a name before each value, so a line without its beginning is detected: it lacks the first name.
   * False where a tail can look like a whole line, such as `3.25` from `1013.25`.
   */
  readonly namesEachValue: boolean
  /** Quantities in order of first appearance; grows as the logger names more. */
  readonly quantities: readonly DialectQuantity[]
  read(line: string): LineOutcome
  /** The same dialect before its first line. */
  again(): Dialect
}

/** Measurement of every reading whose logger names none itself. */
export const loggerMeasurement = 'logger'

/** Measurement of readings that a person takes by eye and types in. */
export const typedMeasurement = 'typed'

/** A line with more values is refused: the recording could not be read back. */
export const fieldsAtMost = mostFields

/** The reading of one line; refused when it has no number. */
export function readingOf(
  fields: ReadonlyMap<string, ReadingValue>,
  timeNs: bigint | null,
  measurement = loggerMeasurement,
  tags: Readonly<Record<string, string>> = {},
): LineOutcome {
  for (const value of fields.values())
    if (typeof value === 'number')
      return { kind: 'reading', reading: { measurement, tags, fields: Object.fromEntries(fields), timeNs } }
  return refused('no number in it')
}

export function refused(reason: string): LineOutcome {
  return { kind: 'refused', reason }
}

/** `csv: p1 [psi], t1 [degC]`: shown to the user for confirmation. */
export function describeDialect(dialect: Dialect): string {
  const quantities = dialect.quantities.map(({ name, unit }) => (unit === null ? name : `${name} [${unit}]`))
  return quantities.length === 0 ? dialect.name : `${dialect.name}: ${quantities.join(', ')}`
}
