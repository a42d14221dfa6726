import { isDay, isoTime } from '#analysis/model/samples.ts'
import type { System } from '#analysis/model/system.ts'
import { parseQuantity, parseRange } from '#analysis/physics/quantity.ts'
import type { Dimension } from '#analysis/physics/units.ts'
import type { SheetField, SheetFields, SheetNames } from './sheet-fields.ts'

/** An unusable sheet of the wet work, explained in one line: which entry, what is wrong. */
export class SheetError extends Error {
  override readonly name = 'SheetError'
}

/** Format of a time in errors. */
export const shortUtc = (ns: bigint): string => `${isoTime(ns).slice(0, 16)}Z`

export interface SheetQuantity {
  readonly value: number
  /** Half width of the stated tolerance; null when none is stated. */
  readonly tolerance: number | null
  /** Standard uncertainty: the half width over √3. */
  readonly std: number
}

type ValueOf<F extends SheetField> = F extends { readonly words: readonly (infer W)[] }
  ? W
  : F extends { readonly is: 'quantity' }
    ? SheetQuantity
    : F extends { readonly is: 'range' }
      ? readonly [low: number, high: number]
      : F extends { readonly is: 'number' }
        ? number
        : F extends { readonly is: 'flag' }
          ? boolean
          : F extends { readonly is: 'texts' }
            ? readonly string[]
            : string

/** Values of a sheet by field; null for missing ones. */
export type SheetValues<F extends SheetFields> = {
  readonly [K in keyof F]: F[K] extends { readonly required: true } ? ValueOf<F[K]> : ValueOf<F[K]> | null
}

/** Allowed names of an entry that refers to a part of the aircraft. */
export function sheetNames(system: System, from: SheetNames): readonly string[] {
  if (from === 'senders')
    return system.channels.filter(({ measures }) => measures === 'level-sender').map(({ id }) => id)
  return system[from].map(({ id }) => id)
}

/** One map of a sheet, JSON or YAML: reads its entries by name and records unread ones. */
export class SheetEntries {
  readonly #entries: Readonly<Record<string, unknown>>
  readonly #where: string
  readonly #asked = new Set<string>()

  constructor(value: unknown, where: string) {
    if (typeof value !== 'object' || value === null || Array.isArray(value))
      throw new SheetError(`${where} is not a list of named entries`)
    this.#entries = value as Record<string, unknown>
    this.#where = where
  }

  fail(key: string, problem: string): never {
    throw new SheetError(`${this.#where}: ${key} ${problem}`)
  }

  /** Unread entries are typing errors. */
  finish(): void {
    const unknown = Object.keys(this.#entries).find((key) => !this.#asked.has(key))
    if (unknown !== undefined)
      this.fail(unknown, `is not known here; known are ${[...this.#asked].join(', ')}`)
  }

  optional(key: string): unknown {
    this.#asked.add(key)
    return this.#entries[key] ?? null
  }

  /** Every entry under its field. @throws SheetError naming the first that is wrong */
  read<F extends SheetFields>(fields: F, system: System): SheetValues<F> {
    const values = Object.entries(fields).map(([key, field]) => {
      const value = this.#valueOf(key, field, system)
      return [key, value ?? (field.required ? this.fail(key, 'is missing') : null)]
    })
    return Object.fromEntries(values)
  }

  #valueOf(key: string, field: SheetField, system: System): unknown {
    if (field.is === 'quantity') {
      const read = this.optionalQuantity(key, field.of)
      return read && field.positive && !(read.value > 0) ? this.fail(key, 'must be above zero') : read
    }
    if (field.is === 'range') return this.range(key, field.of)
    if (this.optional(key) === null) return null
    if (field.is === 'word') return this.word(key, field.words)
    if (field.is === 'named') return this.word(key, sheetNames(system, field.from))
    if (field.is === 'instant') return this.instantNs(key)
    if (field.is === 'texts') return this.texts(key)
    return this[field.is === 'text' ? 'optionalText' : field.is](key)
  }

  text(key: string): string {
    return this.optionalText(key) ?? this.fail(key, 'is missing')
  }

  optionalText(key: string): string | null {
    const value = this.optional(key)
    if (value === null) return null
    if (typeof value !== 'string' || value.length > 500) this.fail(key, 'is not text')
    return value.trim() || null
  }

  word<T extends string>(key: string, words: readonly T[]): T {
    const text = this.text(key)
    return words.find((word) => word === text) ?? this.fail(key, `"${text}" is none of ${words.join(', ')}`)
  }

  flag(key: string): boolean | null {
    const value = this.optional(key)
    if (value !== null && typeof value !== 'boolean') this.fail(key, 'is neither true nor false')
    return value
  }

  number(key: string): number | null {
    const value = this.optional(key)
    if (value !== null && (typeof value !== 'number' || !Number.isFinite(value)))
      this.fail(key, 'is not a number')
    return value
  }

  quantity(key: string, dimension: Dimension): SheetQuantity {
    return this.optionalQuantity(key, dimension) ?? this.fail(key, 'is missing')
  }

  optionalQuantity(key: string, dimension: Dimension): SheetQuantity | null {
    const text = this.optionalText(key)
    if (text === null) return null
    const read = parseQuantity(text, dimension)
    if ('fault' in read) this.fail(key, read.fault)
    return { value: read.value, tolerance: read.tolerance, std: (read.tolerance ?? 0) / Math.sqrt(3) }
  }

  range(key: string, dimension: Dimension): readonly [number, number] | null {
    const text = this.optionalText(key)
    if (text === null) return null
    const read = parseRange(text, dimension)
    if ('fault' in read) this.fail(key, read.fault)
    return [read.low, read.high]
  }

  /** Instant as epoch nanoseconds. */
  instantNs(key: string): string {
    const text = this.text(key)
    const ms = Date.parse(text)
    if (Number.isNaN(ms)) this.fail(key, `"${text}" is not a time; write it as 2026-05-09T18:00:00Z`)
    return String(BigInt(ms) * 1_000_000n)
  }

  day(key: string): string | null {
    const text = this.optionalText(key)
    if (text !== null && !isDay(text)) this.fail(key, `"${text}" is not a day; write it as 2026-03-02`)
    return text
  }

  list(key: string): unknown[] {
    const value = this.optional(key) ?? []
    if (!Array.isArray(value) || value.length > 500) this.fail(key, 'is not a list')
    return value
  }

  texts(key: string): string[] {
    return this.list(key).map((value) =>
      typeof value === 'string' ? value : this.fail(key, 'contains an entry that is not text'),
    )
  }
}
