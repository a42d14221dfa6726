const decimalPoint = /^[+-]?(?:\d+\.?\d*|\.\d+)(?:[eE][+-]?\d+)?$/
const decimalComma = /^[+-]?(?:\d+,?\d*|,\d+)(?:[eE][+-]?\d+)?$/
const missing = /^(?:[+-]?(?:nan|inf|infinity)|null|none|n\/?a|ovf|--+|-?)$/i

/**
 * Reads a number as loggers print it; the whole text must be one number, so that `101.325000.2` and `10.1 psi`
 * are not numbers.
 *
 * @returns the number; `null` for what loggers print when a sensor has nothing to say (`nan`, `inf`, an empty
 * cell): a missing value; `undefined` for anything else.
 */
export function readNumber(text: string, decimalSign: '.' | ',' = '.'): number | null | undefined {
  const plain = plainNumber(text, decimalSign === '.' ? 46 : 44)
  if (plain !== null) return plain
  const trimmed = text.trim()
  if ((decimalSign === '.' ? decimalPoint : decimalComma).test(trimmed)) {
    const value = Number(decimalSign === '.' ? trimmed : trimmed.replace(',', '.'))
    return Number.isFinite(value) ? value : undefined
  }
  return missing.test(trimmed) ? null : undefined
}

/** Powers of ten that fifteen digits are divided by, correctly rounded. */
const powersOfTen = Float64Array.from({ length: 16 }, (_, n) => Number(`1e${n}`))

/** Digits with at most one decimal sign among them, no more than a double has exactly: nearly every number; else null. */
function plainNumber(text: string, sign: number): number | null {
  const length = text.length
  if (length === 0 || length > 16) return null
  const isNegative = text.charCodeAt(0) === 45
  const from = isNegative ? 1 : 0
  let mantissa = 0
  let signAt = -1
  for (let i = from; i < length; i++) {
    const c = text.charCodeAt(i)
    if (c >= 48 && c <= 57) mantissa = mantissa * 10 + c - 48
    else if (c === sign && signAt === -1) signAt = i
    else return null
  }
  const digits = length - from - (signAt === -1 ? 0 : 1)
  if (digits === 0 || digits > 15) return null
  const size = signAt === -1 ? mantissa : mantissa / powersOfTen[length - 1 - signAt]
  return isNegative ? -size : size
}
