const decimalPoint = /^[+-]?(?:\d+\.?\d*|\.\d+)(?:[eE][+-]?\d+)?$/
const decimalComma = /^[+-]?(?:\d+,?\d*|,\d+)(?:[eE][+-]?\d+)?$/
const missing = /^(?:[+-]?(?:nan|inf|infinity)|null|none|n\/?a|ovf|--+|-?)$/i

/**
 * Reads a number as loggers print it. The whole text must be one number: `101.325000.2` and `10.1 psi` are not.
 *
 * @returns the number; `null` for a missing value (`nan`, `inf`, an empty cell); `undefined` for anything else.
 */
export function readNumber(text: string, decimalSign: '.' | ',' = '.'): number | null | undefined {
  const trimmed = text.trim()
  if ((decimalSign === '.' ? decimalPoint : decimalComma).test(trimmed)) {
    const value = Number(decimalSign === '.' ? trimmed : trimmed.replace(',', '.'))
    return Number.isFinite(value) ? value : undefined
  }
  return missing.test(trimmed) ? null : undefined
}
