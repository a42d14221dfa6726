import { parseQuantity, parseRange, type Quantity } from '#analysis/physics/quantity.ts'
import type { Dimension, PressureReference } from '#analysis/physics/units.ts'
import type { MapView } from './file-view.ts'

/** What `psia` or `psig` in this place would contradict; null where either is fine. */
export type Expected = { readonly dimension: Dimension; readonly reference?: PressureReference }

/** SI value of `key`, or null when it is missing or, with an error, not understood. */
export function quantity(view: MapView, key: string, expected: Expected, required = false): number | null {
  const read = toleranced(view, key, expected, required)
  if (read === null) return null
  if (read.tolerance !== null) view.error(key, 'takes no tolerance here')
  return read.value
}

/** The same, required to be more than zero. */
export function positiveQuantity(
  view: MapView,
  key: string,
  expected: Expected,
  required = false,
): number | null {
  const value = quantity(view, key, expected, required)
  if (value !== null && value <= 0) view.error(key, 'must be more than zero')
  return value
}

/** A quantity that may carry a tolerance. */
export function toleranced(
  view: MapView,
  key: string,
  expected: Expected,
  required: boolean,
): Quantity | null {
  const text = required ? view.requiredText(key) : view.text(key)
  if (text === null) return null
  return quantityOf(text, expected, (wrong) => view.error(key, wrong))
}

/** `low to high`, `x ± d`, or a single value when `mayBePoint`; SI. */
export function span(
  view: MapView,
  key: string,
  expected: Expected,
  mayBePoint: boolean,
): readonly [low: number, high: number] | null {
  const text = view.text(key)
  if (text === null) return null
  if (/±|\+\/-/.test(text)) {
    const read = quantityOf(text, expected, (wrong) => view.error(key, wrong))
    return read && [read.value - (read.tolerance ?? 0), read.value + (read.tolerance ?? 0)]
  }
  const range = parseRange(text, expected.dimension)
  if ('fault' in range) {
    view.error(key, range.fault)
    return null
  }
  if (range.low === range.high && !mayBePoint) {
    view.error(key, `"${text}" has no width; write both ends, like "0 psi to 30 psi"`)
    return null
  }
  return [range.low, range.high]
}

/** A quantity from text, checked against what is measured; null after `complain`. */
export function quantityOf(
  text: string,
  expected: Expected,
  complain: (wrong: string) => void,
): Quantity | null {
  const read = parseQuantity(text, expected.dimension)
  if ('fault' in read) {
    complain(read.fault)
    return null
  }
  if (expected.reference && read.reference && read.reference !== expected.reference) {
    complain(`"${text}" is ${read.reference}, but ${expected.reference} pressure is meant here`)
    return null
  }
  return read
}
