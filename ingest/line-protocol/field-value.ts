import { backslash, comma, del, minus, newline, nine, plus, quote, zero } from './ascii.ts'

/** A decimal with more digits is left to the strict parser. */
export const mostDigits = 22
/** Powers of ten that are exact in a double. */
export const powersOfTen = Float64Array.from({ length: mostDigits + 1 }, (_, n) => Number(`1e${n}`))
/** Veltkamp split: halves a double's digits, so that products of the halves are exact. */
const halves = 2 ** 27 + 1
/** Bound on the relative error of the remainder. */
const doubt = 2 ** -49

/**
 * A correctly rounded decimal: the integer M of its digits, exact in two doubles, is divided by a power of ten with
 * one step of long division. Where the rounding of M / 10ⁿ depends on the error of that step, the engine reads the text.
 *
 * @param digits number of digits, up to `mostDigits`
 * @param decimals how many of them follow the point
 * *Source*: Dekker, two-product and long division of doubles (from memory); rounding test of Ziv (from memory)
 */
export function wideDecimal(bytes: Buffer, from: number, digits: number, decimals: number): number {
  let high = 0
  let low = 0
  let i = from
  for (let left = digits; left > 0; i++) {
    const d = bytes[i] - zero
    if (d < 0) continue
    low = (Math.imul(low, 10) + d) | 0
    left--
    if (left !== 7 && left !== 14) continue
    high = high * 1e7 + low
    low = 0
  }
  const power = powersOfTen[decimals]
  if (digits <= 15) return (high * 1e7 + low) / power
  const top = Math.floor(high / 2 ** 26)
  const a = top * 1e7 * 2 ** 26
  const b = (high - top * 2 ** 26) * 1e7 + low
  const whole = a + b
  const rest = b - (whole - a)
  const quotient = whole / power
  const product = quotient * power
  const q = split(quotient)
  const p = split(power)
  const error = (quotient - q) * (power - p) - (product - q * p - q * (power - p) - (quotient - q) * p)
  const more = (whole - product - error + rest) / power
  const value = quotient + more
  const isSure = quotient + more * (1 - doubt) === value && quotient + more * (1 + doubt) === value
  return isSure ? value : numberOf(bytes, from, i)
}

function split(value: number): number {
  const large = value * halves
  return large - (large - value)
}

/** The number from `from` up to `to`, parsed by the engine; NaN when it is not a number. */
export function numberOf(bytes: Buffer, from: number, to: number): number {
  return Number(bytes.toString('latin1', from, to))
}

/** Index after the exponent whose sign or first digit is at `from`. */
export function endOfExponent(bytes: Uint8Array, from: number): number {
  let i = from
  if (bytes[i] === minus || bytes[i] === plus) i++
  while (bytes[i] >= zero && bytes[i] <= nine) i++
  return i
}

const words = new Set(['t', 'T', 'true', 'True', 'TRUE', 'f', 'F', 'false', 'False', 'FALSE'])

/** Index after the boolean, or the ASCII string without escapes, at `from`; -1 when there is none. */
export function endOfWord(bytes: Buffer, from: number): number {
  let i = from + 1
  if (bytes[from] !== quote) {
    while (bytes[i] > comma) i++
    return words.has(bytes.toString('latin1', from, i)) ? i : -1
  }
  for (; i < bytes.length; i++) {
    const c = bytes[i]
    if (c === quote) return i + 1
    if (c === backslash || c === newline || c > del) return -1
  }
  return -1
}
