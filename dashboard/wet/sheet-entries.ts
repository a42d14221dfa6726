import { parseQuantity, parseRange } from '#analysis/physics/quantity.ts'
import type { Dimension } from '#analysis/physics/units.ts'

/** A sheet of the wet work that cannot be used, told in one line: which entry, what is wrong. */
export class SheetError extends Error {
  override readonly name = 'SheetError'
}

export interface SheetQuantity {
  readonly value: number
  /** Half width of the stated tolerance; null when none is stated. */
  readonly tolerance: number | null
  /** Standard uncertainty: the half width over √3. */
  readonly std: number
}

/** One map of a sheet, JSON or YAML: reads its entries by name and knows which were not asked for. */
export class SheetEntries {
  readonly #entries: Readonly<Record<string, unknown>>
  readonly #where: string
  readonly #asked = new Set<string>()

  constructor(value: unknown, where: string) {
    if (typeof value !== 'object' || value === null || Array.isArray(value))
      throw new SheetError(`${where} is no list of named entries`)
    this.#entries = value as Record<string, unknown>
    this.#where = where
  }

  fail(key: string, problem: string): never {
    throw new SheetError(`${this.#where}: ${key} ${problem}`)
  }

  /** Anything not asked for is a typing error. */
  finish(): void {
    const unknown = Object.keys(this.#entries).find((key) => !this.#asked.has(key))
    if (unknown !== undefined)
      this.fail(unknown, `is not known here; known are ${[...this.#asked].join(', ')}`)
  }

  optional(key: string): unknown {
    this.#asked.add(key)
    return this.#entries[key] ?? null
  }

  text(key: string): string {
    return this.optionalText(key) ?? this.fail(key, 'is missing')
  }

  optionalText(key: string): string | null {
    const value = this.optional(key)
    if (value === null) return null
    if (typeof value !== 'string' || value.length > 500) this.fail(key, 'is no text')
    return value.trim() || null
  }

  /** Text of any length, as it came. */
  content(key: string): string {
    const value = this.optional(key)
    return typeof value === 'string' ? value : this.fail(key, 'is missing')
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
      this.fail(key, 'is no number')
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
    if (Number.isNaN(ms)) this.fail(key, `"${text}" is no time; write it as 2026-05-09T18:00:00Z`)
    return String(BigInt(ms) * 1_000_000n)
  }

  day(key: string): string | null {
    const text = this.optionalText(key)
    if (text !== null && !(/^\d{4}-\d{2}-\d{2}$/.test(text) && !Number.isNaN(Date.parse(text))))
      this.fail(key, `"${text}" is no day; write it as 2026-03-02`)
    return text
  }

  list(key: string): unknown[] {
    const value = this.optional(key) ?? []
    if (!Array.isArray(value) || value.length > 500) this.fail(key, 'is no list')
    return value
  }

  texts(key: string): string[] {
    return this.list(key).map((value) =>
      typeof value === 'string' ? value : this.fail(key, 'holds something that is no text'),
    )
  }
}
