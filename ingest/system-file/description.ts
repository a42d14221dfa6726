import type { Node } from 'yaml'
import { parseQuantity, parseRange, type Quantity } from '#analysis/physics/quantity.ts'
import type { Dimension, PressureReference } from '#analysis/physics/units.ts'
import { type FileView, type MapView, nearestKey } from './file-view.ts'

/** The subset of JSON Schema in use. */
export interface JsonSchema {
  readonly $schema?: string
  readonly title?: string
  readonly description?: string
  readonly type?: string | readonly string[]
  readonly const?: number
  readonly enum?: readonly string[]
  readonly properties?: Readonly<Record<string, JsonSchema>>
  readonly required?: readonly string[]
  readonly additionalProperties?: false | JsonSchema
  readonly items?: JsonSchema
  readonly minItems?: number
  readonly maxItems?: number
}

/** One key of a mapping: the schema of its value, for editors that complete and check, and its reader. */
export interface Key<T> {
  readonly schema: JsonSchema
  /** `own`: the reader reports a missing value itself. */
  readonly required?: true | 'own'
  /** Null when it is missing, or invalid with a reported error. */
  read(view: MapView, key: string): T
}

/** The keys of a mapping. */
type Values<K> = { readonly [P in keyof K]: K[P] extends Key<infer T> ? T : never }

export interface Mapping<V> {
  readonly schema: JsonSchema
  /** Reads the mapping at `node`; null, with an error, when there is none. */
  open(file: FileView, node: Node | null, what: string): { readonly view: MapView; readonly value: V } | null
}

/** Result of `open` on a mapping. */
export type Opened<M extends Mapping<unknown>> = NonNullable<ReturnType<M['open']>>

/** A mapping of exactly these keys, for the schema and for the reader. */
export function mapping<K extends Readonly<Record<string, Key<unknown>>>>(keys: K): Mapping<Values<K>> {
  const named = Object.entries(keys)
  const names = Object.keys(keys)
  return {
    schema: {
      type: 'object',
      properties: Object.fromEntries(named.map(([name, { schema }]) => [name, schema])),
      required: named.flatMap(([name, { required }]) => (required ? [name] : [])),
      additionalProperties: false,
    },
    open(file, node, what) {
      const view = file.open(node, what, names)
      if (view === null) return null
      const value = named.map(([name, key]) => {
        if (key.required === true && view.node(name) === null) view.missing(name)
        return [name, key.read(view, name)]
      })
      return { view, value: Object.fromEntries(value) as Values<K> }
    },
  }
}

export const must = <T>(key: Key<T>, required: true | 'own' = true): Key<T> => ({ ...key, required })

/** A key read by the mapping's own reader, because it depends on other values. */
export const later = (schema: JsonSchema): Key<null> => ({ schema, read: () => null })

/** A mapping below a key; null when it is missing, or is none. */
export const nested = <V>(inner: Mapping<V>): Key<Opened<Mapping<V>> | null> => ({
  schema: inner.schema,
  read(view, key) {
    const node = view.node(key)
    return node && inner.open(view.file, node, view.below(key))
  },
})

/** One mapping of a list, with its id. */
export type Entry<M extends Mapping<unknown>> = Opened<M> & { readonly id: string | null }

/** A list of mappings; `noun` names each in messages. */
export const listOf = <V>(noun: string, entry: Mapping<V>): Key<Entry<Mapping<V>>[]> => ({
  schema: { type: 'array', items: entry.schema },
  read: (view, key) =>
    view.file.items(view.node(key), key).flatMap((node, index) => {
      const id = view.file.idOf(node)
      const opened = entry.open(view.file, node, `${noun} ${id ?? index + 1}`)
      return opened === null ? [] : [{ ...opened, id }]
    }),
})

export const textSchema = (description: string): JsonSchema => ({
  type: ['string', 'number', 'boolean'],
  description,
})

const namesSchema = (description: string): JsonSchema => ({
  type: 'array',
  items: textSchema('an id'),
  description,
})

export const text = (about: string): Key<string | null> => ({
  schema: textSchema(about),
  read: (view, key) => view.text(key),
})

/** A list of names. */
export const names = (about: string, schema: JsonSchema = {}): Key<string[]> => ({
  schema: { ...namesSchema(about), ...schema },
  read: (view, key) => view.words(key),
})

/** A word of a closed list. */
export const word = <const W extends string>(about: string, words: readonly W[]): Key<W | null> => ({
  schema: { enum: words, description: about },
  read(view, key) {
    const written = view.text(key)
    const found = words.find((one) => one === written)
    if (written === null || found !== undefined) return found ?? null
    const nearest = nearestKey(written, words)
    view.error(key, `"${written}" is none of ${words.join(', ')}; the nearest is "${nearest}"`)
    return null
  },
})

/** Dimension and pressure reference of a value; without a reference, `psia` and `psig` are both accepted. */
export type Expected = { readonly dimension: Dimension; readonly reference?: PressureReference }

export const gauge: Expected = { dimension: 'pressure', reference: 'gauge' }

/** A quantity that may carry a tolerance. */
export const toleranced = (about: string, dimension: Dimension): Key<Quantity | null> => ({
  schema: textSchema(about),
  read: (view, key) => tolerancedAt(view, key, { dimension }),
})

const expectedOf = (of: Expected | Dimension): Expected => (typeof of === 'string' ? { dimension: of } : of)

/** A quantity without tolerance, in SI. */
export const quantity = (about: string, of: Expected | Dimension): Key<number | null> => ({
  schema: textSchema(about),
  read: (view, key) => quantityAt(view, key, expectedOf(of)),
})

/** The same, required to be more than zero. */
export const positive = (about: string, of: Expected | Dimension): Key<number | null> => ({
  schema: textSchema(about),
  read: (view, key) => positiveAt(view, key, expectedOf(of)),
})

export function tolerancedAt(view: MapView, key: string, expected: Expected): Quantity | null {
  const written = view.text(key)
  return written === null ? null : quantityOf(written, expected, (wrong) => view.error(key, wrong))
}

function quantityAt(view: MapView, key: string, expected: Expected): number | null {
  const read = tolerancedAt(view, key, expected)
  if (read === null) return null
  if (read.tolerance !== null) view.error(key, 'takes no tolerance here')
  return read.value
}

export function positiveAt(view: MapView, key: string, expected: Expected): number | null {
  const value = quantityAt(view, key, expected)
  if (value !== null && value <= 0) view.error(key, 'must be more than zero')
  return value
}

/** `low to high`, `x ± d`, or a single value when `mayBePoint`; SI. */
export function spanAt(
  view: MapView,
  key: string,
  expected: Expected,
  mayBePoint: boolean,
): readonly [low: number, high: number] | null {
  const written = view.text(key)
  if (written === null) return null
  if (/±|\+\/-/.test(written)) {
    const read = quantityOf(written, expected, (wrong) => view.error(key, wrong))
    return read && [read.value - (read.tolerance ?? 0), read.value + (read.tolerance ?? 0)]
  }
  const range = parseRange(written, expected.dimension)
  if ('fault' in range) view.error(key, range.fault)
  else if (range.low === range.high && !mayBePoint)
    view.error(key, `"${written}" has no width; write both ends, like "0 psi to 30 psi"`)
  else return [range.low, range.high]
  return null
}

/** A quantity from text, checked against the expected dimension and reference; null after `complain`. */
export function quantityOf(
  written: string,
  expected: Expected,
  complain: (wrong: string) => void,
): Quantity | null {
  const read = parseQuantity(written, expected.dimension)
  if ('fault' in read) complain(read.fault)
  else if (expected.reference && read.reference && read.reference !== expected.reference)
    complain(`"${written}" is ${read.reference}, but ${expected.reference} pressure is meant here`)
  else return read
  return null
}
