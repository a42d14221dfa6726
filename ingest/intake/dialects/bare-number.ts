import { type Dialect, loggerMeasurement, refused } from './dialect.ts'
import { readNumber } from './read-number.ts'

const withUnit = /^([+-]?[\d.,]+(?:[eE][+-]?\d+)?)\s*([^\d\s.,+-]\S*)?$/

/** One number a line, a unit behind it or not: `10.01`, `10.01 psi`. It becomes the field `value`. */
export function bareNumberDialect(decimalSign: '.' | ','): Dialect {
  const quantities: { name: string; unit: string | null }[] = []
  return {
    name: decimalSign === ',' ? 'number-decimal-comma' : 'number',
    namesEachValue: false,
    quantities,
    read(line) {
      const parted = withUnit.exec(line.trim())
      const value = parted === null ? readNumber(line, decimalSign) : readNumber(parted[1], decimalSign)
      if (value === undefined) return refused('not a number')
      if (value === null) return refused('no number in it')
      const unit = parted?.[2] ?? null
      if (quantities.length === 0) quantities.push({ name: 'value', unit })
      else if (quantities[0].unit !== unit)
        return refused(`was in ${quantities[0].unit ?? 'no unit'} and is now in ${unit ?? 'no unit'}`)
      const reading = { measurement: loggerMeasurement, tags: {}, fields: { value }, timeNs: null }
      return { kind: 'reading', reading }
    },
  }
}
