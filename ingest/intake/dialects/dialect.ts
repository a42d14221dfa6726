import { type Field, mostFields, type Point } from '#ingest/line-protocol/point.ts'
import { sequenceFields } from '../sequence.ts'

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

/** A line read, or in plain words why it cannot be. `header` is a line that names columns and carries no reading. */
export type LineOutcome =
  /** Its time is the logger's own; null when the line has none and its arrival counts. */
  | { readonly kind: 'reading'; readonly point: Point }
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

const noTags: Readonly<Record<string, string>> = Object.freeze(Object.create(null))

/**
 * The reading of one line; refused when no value in it is a number. Numbers stay floats, so that 10 and 10.1 are of one
 * type; only a line number is an integer.
 */
export function readingOf(
  values: ReadonlyMap<string, ReadingValue>,
  timeNs: bigint | null,
  measurement = loggerMeasurement,
  tags = noTags,
): LineOutcome {
  const fields: Field[] = []
  let hasNumber = false
  for (const [key, value] of values) {
    if (typeof value !== 'number') fields.push({ key, type: typeof value, value } as Field)
    else {
      hasNumber = true
      const isLineNumber = sequenceFields.includes(key) && Number.isSafeInteger(value)
      fields.push(
        isLineNumber ? { key, type: 'integer', value: BigInt(value) } : { key, type: 'float', value },
      )
    }
  }
  if (!hasNumber) return refused('no number in it')
  return {
    kind: 'reading',
    point: { measurement, tags, fields, timeNs: timeNs === null ? null : String(timeNs) },
  }
}

export function refused(reason: string): LineOutcome {
  return { kind: 'refused', reason }
}

/** `csv: p1 [psi], t1 [degC]`: what the user is shown and asked to confirm. */
export function describeDialect(dialect: Dialect): string {
  const quantities = dialect.quantities.map(({ name, unit }) => (unit === null ? name : `${name} [${unit}]`))
  return quantities.length === 0 ? dialect.name : `${dialect.name}: ${quantities.join(', ')}`
}
