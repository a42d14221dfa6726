import { groupBy } from '#analysis/model/group-by.ts'
import { type Dimension, type Unit, unitTable } from './unit-table.ts'

export type { Dimension, Unit } from './unit-table.ts'

/** Whether a pressure unit was written as gauge (`psig`) or absolute (`psia`); null when not stated. */
export type PressureReference = 'gauge' | 'absolute' | null

/** Normalizes a spelling: without separators, degree signs, super- and subscripts. */
function spellingKey(text: string): string {
  return text
    .normalize('NFKC')
    .replaceAll('\u03a9', 'ohm')
    .replaceAll('\u03bc', 'u')
    .replaceAll('\u00b0', 'deg')
    .replace(/[\s\u00b7\u22c5\u2022*._\-^]+/g, '')
}

const spellings = unitTable.flatMap((unit) =>
  [...new Set([unit.symbol, ...unit.also].map(spellingKey))].map((key) => ({ key, unit })),
)
const byKey = groupBy(spellings, ({ key }) => key)
const byFoldedKey = groupBy(spellings, ({ key }) => key.toLowerCase())

/** `PSI` may mean `psi`; `MPa` never means `mPa`, and single letters keep their case. */
function mayFold(spelling: string, unit: Unit): boolean {
  if (spelling.length < 2) return false
  return [unit.symbol, ...unit.also].some((known) => {
    const key = spellingKey(known)
    const first = key.charAt(0)
    const prefixClash = first !== spelling.charAt(0) && first.toLowerCase() === 'm'
    return key.toLowerCase() === spelling.toLowerCase() && !prefixClash
  })
}

function pick(
  found: readonly { readonly unit: Unit }[] | undefined,
  dimension: Dimension | undefined,
): Unit | undefined {
  return found?.find(({ unit }) => dimension === undefined || unit.dimension === dimension)?.unit
}

function lookUp(spelling: string, dimension: Dimension | undefined): Unit | undefined {
  const key = spellingKey(spelling)
  const exact = pick(byKey.get(key), dimension)
  if (exact !== undefined) return exact
  const folded = (byFoldedKey.get(key.toLowerCase()) ?? []).filter(({ unit }) => mayFold(key, unit))
  return pick(folded, dimension)
}

/**
 * Finds a unit by any of its spellings.
 *
 * @param text unit as written: `psi`, `PSI`, `psig`, `kPa(a)`, `N·m`, `in-lb`, `cm³`
 * @param dimension the intended one when several share the spelling (`K`)
 * @returns the unit and, for a pressure, its reference; null for an unknown spelling
 */
export function findUnit(
  text: string,
  dimension?: Dimension,
): { readonly unit: Unit; readonly reference: PressureReference } | null {
  const plain = lookUp(text, dimension)
  if (plain !== undefined) return { unit: plain, reference: null }
  const marked = /^(.+?)[\s(\-_]*(g|gauge|ga|gage|a|abs|absolute)\)?$/i.exec(text.trim())
  if (marked === null) return null
  const pressure = lookUp(marked[1], 'pressure')
  if (pressure === undefined || (dimension !== undefined && dimension !== 'pressure')) return null
  return { unit: pressure, reference: marked[2].toLowerCase().startsWith('g') ? 'gauge' : 'absolute' }
}

/** Units of one dimension in the order displays list them; the first is the default. */
export function unitsOf(dimension: Dimension): readonly string[] {
  return unitTable.filter((unit) => unit.dimension === dimension).map((unit) => unit.symbol)
}

function knownUnit(unit: string, dimension: Dimension | undefined): Unit {
  const found = findUnit(unit, dimension)
  if (found === null) throw new RangeError(unknownUnit(unit, dimension))
  return found.unit
}

/**
 * SI value of a number in a unit.
 *
 * @throws RangeError for a unit that is not in the table
 * Check: 10 psi is 68947.57293 Pa ([nist-sp811])
 */
export function fromUnit(value: number, unit: string, dimension?: Dimension): number {
  const { times, over, offset } = knownUnit(unit, dimension)
  return ((value + offset) * times) / over
}

/** Converts an SI value to a unit: the inverse of `fromUnit`. */
export function toUnit(valueSi: number, unit: string, dimension?: Dimension): number {
  const { times, over, offset } = knownUnit(unit, dimension)
  return (valueSi * over) / times - offset
}

const longestCompared = 80

/** Number of single-character edits that turn `a` into `b`; a swap of neighbours counts as one. */
export function editsBetween(a: string, b: string): number {
  // A pasted paragraph is not a typing error: bound the table.
  if (a.length > longestCompared) return a.length
  const width = b.length + 1
  let beforeLast = new Uint16Array(width)
  let last = Uint16Array.from({ length: width }, (_, i) => i)
  for (let i = 1; i <= a.length; i++) {
    const row = new Uint16Array(width)
    row[0] = i
    for (let j = 1; j < width; j++) {
      const replace = last[j - 1] + (a[i - 1] === b[j - 1] ? 0 : 1)
      row[j] = Math.min(replace, last[j] + 1, row[j - 1] + 1)
      if (i > 1 && j > 1 && a[i - 1] === b[j - 2] && a[i - 2] === b[j - 1]) {
        row[j] = Math.min(row[j], beforeLast[j - 2] + 1)
      }
    }
    beforeLast = last
    last = row
  }
  return last[b.length]
}

/** The known unit with the nearest spelling. */
export function nearestUnit(text: string, dimension?: Dimension): string {
  const wanted = spellingKey(text)
  let best = { symbol: '', distance: Number.POSITIVE_INFINITY }
  for (const unit of unitTable) {
    if (dimension !== undefined && unit.dimension !== dimension) continue
    for (const spelling of [unit.symbol, ...unit.also]) {
      const key = spellingKey(spelling)
      // `mb` is short for `mbar`: letters missing at the end cost less than other letters.
      const isShort = wanted !== '' && key.toLowerCase().startsWith(wanted.toLowerCase())
      const distance =
        editsBetween(wanted.toLowerCase(), key.toLowerCase()) / (isShort ? 2 : 1) +
        editsBetween(wanted, key) / 100
      if (distance < best.distance) best = { symbol: unit.symbol, distance }
    }
  }
  return best.symbol
}

/** One plain sentence for a unit that is unknown or of the wrong dimension. */
export function unknownUnit(text: string, dimension?: Dimension): string {
  const other = dimension === undefined ? null : findUnit(text)
  if (other !== null) {
    const known = unitsOf(dimension!).slice(0, 6).join(', ')
    return `"${text}" is a unit of ${words(other.unit.dimension)}; a ${words(dimension!)} is needed here (${known})`
  }
  return `unknown unit "${text}"; the nearest known unit is "${nearestUnit(text, dimension)}"`
}

function words(dimension: Dimension): string {
  return dimension.replaceAll('-', ' ')
}
