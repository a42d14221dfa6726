import { type Dimension, findUnit, type PressureReference, type Unit, unknownUnit } from './units.ts'

/** A number with its unit, read from text. */
export interface Quantity {
  /** SI value. */
  readonly value: number
  /** Half width of the stated tolerance, SI; null when none is stated. */
  readonly tolerance: number | null
  readonly dimension: Dimension
  /** Unit as the table spells it. */
  readonly unit: string
  /** Gauge or absolute if the unit states it (`psig`, `psia`). */
  readonly reference: PressureReference
}

/** Why a text is not a quantity, in one plain sentence. */
export interface QuantityFault {
  readonly fault: string
}

const NUMBER = String.raw`[+-]?(?:\d+(?:\.\d*|,\d+)?|[.,]\d+)(?:[eE][+-]?\d+)?`
/** `1,500` is ambiguous, 1500 or 1.5; `0,500` can only be a half. */
const EITHER_COMMA = /^[+-]?[1-9]\d{0,2},\d{3}$/
const NUMBER_THEN_UNIT = new RegExp(`^(${NUMBER})\\s*(.*)$`)

/**
 * Word processors turn `-3 inHg` into typeset minus signs and no-break spaces. Runs of spaces become one, since the
 * lookaround patterns would try every part of a long run.
 */
function plain(text: string): string {
  return text
    .replace(/[\u2212\u2013](?=\s*[\d.])/g, '-')
    .replace(/\s+/g, ' ')
    .trim()
}

function readPart(text: string) {
  const match = NUMBER_THEN_UNIT.exec(text.trim())
  if (match === null) return null
  const number = Number(match[1].replace(',', '.'))
  return Number.isFinite(number) ? { number, written: match[1], unitText: match[2].trim() } : null
}

function notANumber(whole: string): QuantityFault {
  if (/\d[.,]\d+[.,]\d/.test(whole))
    return { fault: `"${whole}" has two separators in one number; write it without a thousands separator` }
  return { fault: `"${whole}" is not a quantity; write a number and its unit, such as "10 psi"` }
}

function toSi(number: number, unit: Unit): number {
  return ((number + unit.offset) * unit.times) / unit.over
}

/** A tolerance is a difference: the offset of a temperature scale does not apply. */
function widthToSi(number: number, unit: Unit): number {
  return (Math.abs(number) * unit.times) / unit.over
}

function differenceOf(dimension: Dimension): Dimension {
  return dimension === 'temperature' ? 'temperature-difference' : dimension
}

/**
 * Parses a quantity as people write it, with a decimal point or a decimal comma.
 *
 * @param text `10 psi`, `0.35 L ± 10 %`, `0,35 L`, `0.35 L +/- 0.02 L`, `0.35 ± 0.02 L`, `20 degC`, `-3 inHg`, `0.25 % of span`
 * @param expected required dimension; a unit of another dimension is a fault
 * @returns the SI value and half width of the tolerance, or the fault in words
 */
export function parseQuantity(text: string, expected?: Dimension): Quantity | QuantityFault {
  const halves = plain(text).split(/\s*(?:±|\+\/-|\+-)\s*/)
  if (halves.length > 2) return { fault: `"${text}" has more than one tolerance` }
  const main = readPart(halves[0])
  if (main === null) return notANumber(text)
  const margin = halves.length === 2 ? readPart(halves[1]) : null
  if (halves.length === 2 && margin === null) return { fault: `"${text}": no number after ±` }

  for (const part of [main, margin])
    if (part !== null && EITHER_COMMA.test(part.written)) {
      const [thousands, decimals] = [part.written.replace(',', ''), part.written.replace(',', '.')]
      return {
        fault: `"${text}": the comma may mark thousands or decimals; write ${thousands} or ${decimals}`,
      }
    }

  // `0.35 ± 0.02 L`: one unit for both
  const unitText = main.unitText === '' && margin !== null ? margin.unitText : main.unitText
  if (unitText === '') return { fault: `"${text}" has no unit; write it after the number, such as "10 psi"` }
  const found = findUnit(unitText, expected)
  if (found === null) {
    return /^,\d/.test(unitText)
      ? notANumber(text)
      : { fault: `"${text}": ${unknownUnit(unitText, expected)}` }
  }
  const { unit, reference } = found
  const value = toSi(main.number, unit)
  const common = { value, dimension: unit.dimension, unit: unit.symbol, reference }
  if (margin === null) return { ...common, tolerance: null }

  if (margin.unitText === '' || margin.unitText === unitText) {
    return { ...common, tolerance: widthToSi(margin.number, unit) }
  }
  const relative = findUnit(margin.unitText, 'ratio')
  if (relative !== null && unit.dimension !== 'ratio') {
    if (unit.offset !== 0)
      return { fault: `"${text}": a percentage of a temperature has no meaning; write ± in K` }
    return { ...common, tolerance: Math.abs(value) * widthToSi(margin.number, relative.unit) }
  }
  const width = findUnit(margin.unitText, differenceOf(unit.dimension))
  if (width === null) {
    return { fault: `"${text}": ${unknownUnit(margin.unitText, differenceOf(unit.dimension))}` }
  }
  return { ...common, tolerance: widthToSi(margin.number, width.unit) }
}

/**
 * Parses a range of one quantity.
 *
 * @param text `0 psi to 30 psi`, `-1 bar to 1 bar`, `100 to 125 in·lb`; a single quantity is a range of zero width
 * @returns SI ends in order, or the fault in words
 */
export function parseRange(text: string, expected?: Dimension) {
  const ends = plain(text).split(/\s+to\s+|\s*\.\.\s*|\s*…\s*/)
  if (ends.length > 2) return { fault: `"${text}" is not a range; write it as "0 psi to 30 psi"` }
  const last = ends[ends.length - 1]
  const high = parseQuantity(last, expected)
  if ('fault' in high) return high
  const firstPart = readPart(ends[0])
  const first = firstPart !== null && firstPart.unitText === '' ? `${ends[0]} ${high.unit}` : ends[0]
  const low = parseQuantity(first, expected ?? high.dimension)
  if ('fault' in low) return low
  if (low.tolerance !== null || high.tolerance !== null) {
    return { fault: `"${text}": a range takes no tolerance` }
  }
  if (low.value > high.value) return { fault: `"${text}" runs from high to low; write the lower end first` }
  return { low: low.value, high: high.value, dimension: high.dimension, unit: high.unit }
}
