import type { Field, Point } from './point.ts'

/** Input of `formatPoint`: tags in any plain object, time as text, bigint or none. */
export interface PointToFormat {
  readonly measurement: string
  readonly tags?: Readonly<Record<string, string>>
  readonly fields: readonly Field[] | Readonly<Record<string, number | bigint | string | boolean>>
  readonly timeNs: string | bigint | null
}

/** Fast path for nearly every name: no escape needed. */
const plainName = /^[\w.:/+-]+$/
const unprintable = /[\0-\x1f\x7f]/
/** Lone surrogate: UTF-8 cannot encode it. */
const loneSurrogate = /\p{Surrogate}/u
const smallestInteger = -(2n ** 63n)
const largestInteger = 2n ** 63n - 1n
const largestUnsigned = 2n ** 64n - 1n

/**
 * One point as one line, without the line end; `PointReader` reads back the same point.
 *
 * Plain values of a `fields` record become floats (number), integers (bigint), strings and booleans.
 *
 * @throws RangeError for what line protocol cannot express: an empty name, a control character or a closing backslash in
 *   a name, a number that is not finite, an integer beyond 64 bits, a point without fields
 */
export function formatPoint(point: PointToFormat | Point): string {
  let text = formatSeries(point)
  const fields = Array.isArray(point.fields) ? (point.fields as readonly Field[]) : fieldsOf(point.fields)
  if (fields.length === 0) throw new RangeError('a point needs a field')
  let separator = ' '
  for (const field of fields) {
    text += `${separator}${formatKey(field.key)}=${formatValue(field)}`
    separator = ','
  }
  if (point.timeNs === null) return text
  const time = BigInt(point.timeNs)
  if (time < smallestInteger || time > largestInteger) throw new RangeError(`time ${time} is beyond 64 bits`)
  return `${text} ${time}`
}

/** Measurement and tags, as a line begins. */
export function formatSeries({
  measurement,
  tags = {},
}: Pick<PointToFormat, 'measurement' | 'tags'>): string {
  let text = escapeName(measurement, 'measurement', /[, ]/g)
  if (text.startsWith('#'))
    throw new RangeError('a measurement that begins with # would be read as a comment')
  for (const [key, value] of Object.entries(tags)) {
    text += `,${escapeName(key, 'tag key', /[,= ]/g)}=${escapeName(value, 'tag value', /[,= ]/g)}`
  }
  return text
}

export function formatKey(key: string): string {
  return escapeName(key, 'field key', /[,= ]/g)
}

function fieldsOf(record: PointToFormat['fields']): Field[] {
  return Object.entries(record).map(([key, value]): Field => {
    switch (typeof value) {
      case 'number':
        return { key, type: 'float', value }
      case 'bigint':
        return { key, type: 'integer', value }
      case 'boolean':
        return { key, type: 'boolean', value }
      case 'string':
        return { key, type: 'string', value }
      default:
        throw new TypeError(`field ${key} is a ${typeof value}`)
    }
  })
}

function escapeName(name: string, what: string, special: RegExp): string {
  if (plainName.test(name)) return name
  if (name === '') throw new RangeError(`an empty ${what}`)
  if (unprintable.test(name)) throw new RangeError(`a control character in ${what} ${JSON.stringify(name)}`)
  if (name.endsWith('\\')) throw new RangeError(`${what} ${JSON.stringify(name)} ends with a backslash`)
  if (loneSurrogate.test(name)) throw new RangeError(`${what} ${JSON.stringify(name)} is not valid text`)
  return name.replace(special, '\\$&')
}

function formatValue(field: Field): string {
  switch (field.type) {
    case 'float':
      if (!Number.isFinite(field.value)) throw new RangeError(`field ${field.key} is ${field.value}`)
      // -0 is a distinct value: String() would lose the sign.
      return Object.is(field.value, -0) ? '-0' : String(field.value)
    case 'integer':
      if (field.value < smallestInteger || field.value > largestInteger) {
        throw new RangeError(`field ${field.key}: ${field.value} is beyond 64 bits`)
      }
      return `${field.value}i`
    case 'unsigned':
      if (field.value < 0n || field.value > largestUnsigned) {
        throw new RangeError(`field ${field.key}: ${field.value} is beyond 64 bits`)
      }
      return `${field.value}u`
    case 'boolean':
      return field.value ? 'true' : 'false'
    case 'string':
      if (loneSurrogate.test(field.value)) throw new RangeError(`field ${field.key} is not valid text`)
      return `"${field.value.replace(/["\\]/g, '\\$&')}"`
  }
}
