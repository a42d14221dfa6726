import { mostFields } from '#ingest/line-protocol/point.ts'

/** How a logger writes its lines. Every dialect becomes points of line protocol on arrival. */
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

/** What one line of a foreign dialect says, before it becomes a point. */
export interface Reading {
  readonly measurement: string
  readonly tags: Readonly<Record<string, string>>
  readonly fields: Readonly<Record<string, ReadingValue>>
  /** The logger's own epoch time, [ns]; null when the line has none and its arrival counts. */
  readonly timeNs: bigint | null
}

/** A line read, or in plain words why it cannot be. `header` is a line that names columns and carries no reading. */
export type LineOutcome =
  | { readonly kind: 'reading'; readonly reading: Reading }
  | { readonly kind: 'header' }
  | { readonly kind: 'refused'; readonly reason: string }

/** One named quantity of the logger and the unit it wrote beside it; null when it wrote none. */
export interface DialectQuantity {
  readonly name: string
  readonly unit: string | null
}

/** A dialect fixed to one logger: its columns, its decimal sign, its clock. */
export interface Dialect {
  readonly name: DialectName
  /**
   * Every line names its values in front of them. A line whose beginning is lost shows it then: it lacks the first name.
   * False where a tail can look like a whole line, as `3.25` of `1013.25` does.
   */
  readonly namesEachValue: boolean
  /** Quantities in the order they were first seen; grows as the logger names more. */
  readonly quantities: readonly DialectQuantity[]
  read(line: string): LineOutcome
}

/** Measurement of every reading whose logger names none itself. */
export const loggerMeasurement = 'logger'

/** Measurement of readings that a person takes by eye and types. */
export const typedMeasurement = 'typed'

/** A line with more values is refused: the recording could not be read back. */
export const fieldsAtMost = mostFields

/** The reading of one line; refused when no value in it is a number. */
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

/** `csv: p1 [psi], t1 [degC]`: what the user is shown and asked to confirm. */
export function describeDialect(dialect: Dialect): string {
  const quantities = dialect.quantities.map(({ name, unit }) => (unit === null ? name : `${name} [${unit}]`))
  return quantities.length === 0 ? dialect.name : `${dialect.name}: ${quantities.join(', ')}`
}
