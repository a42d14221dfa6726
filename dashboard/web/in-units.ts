import { toUnit } from '#analysis/physics/units.ts'
import { type Display, pressure, volume } from './quantity.ts'
import { temperatureUnit } from './settings.ts'

const minus = /^[-−]/
const number = String.raw`[-−]?\d+(?:\.\d+)?(?:e[-+]?\d+)?`
const units = 'psi|inH2O|mmH2O|inHg|kPa|hPa|mbar|bar|Pa|K|L'
/** `10 psi`, `0.6 to 1.2 kPa`, `1.5 ± 0.5 psi`, `between -2 and 3 Pa`, `66.0 L (65.1 to 66.9)`, `0.5 psi (3.4 kPa)`, `2 psi, 13800 Pa`, `2 L/h`. */
const quantity = new RegExp(
  String.raw`(?<![\w.,−-])(?:(between )(${number}) and |(${number}) (to|±) )?(${number}) (${units})(/h)?(?![\w/·²³-])` +
    String.raw`(?:, ${number} Pa\b| \((?:(${number}) to (${number})|${number} (?:psi|kPa|Pa)(?:, ${number} Pa)?)\))?`,
  'g',
)

interface Scale {
  readonly symbol: string
  /** Shown = number · factor. */
  readonly factor: number
}

const scaleOf = (unit: string): Scale => {
  if (unit === 'K')
    return temperatureUnit.value === 'degF' ? { symbol: '°F', factor: 1.8 } : { symbol: '°C', factor: 1 }
  const [display, si]: [Display, number] =
    unit === 'L' ? [volume(), 0.001] : [pressure(), 1 / toUnit(1, unit, 'pressure')]
  return { symbol: display.symbol, factor: unit === display.symbol ? 1 : si * display.slope }
}

/** Converted with at least three figures; what stands in the unit wanted keeps the figures it was given. */
function converted(text: string, factor: number): string {
  const value = Number(text.replace('−', '-'))
  const figures = text.replace(minus, '').replace('.', '').replace(/e.*/, '').replace(/^0+/, '').length
  const plain =
    factor === 1 ? text.replace(minus, '') : plainText(Math.abs(value * factor), Math.max(3, figures))
  return value < 0 ? `−${plain}` : plain
}

/** Three figures of 1234 are 1230, not 1.23e+3. */
const plainText = (value: number, figures: number): string => String(Number(value.toPrecision(figures)))

/**
 * A sentence of the server's or of a record, with its pressures, differences of temperature and volumes in the units
 * in force here. Sentences carry the units of the system file; everything else on the page follows the switch.
 */
export const inUnits = (sentence: string): string =>
  sentence.replace(
    quantity,
    (
      _,
      between: string,
      first: string,
      from: string,
      joint: string,
      last: string,
      unit: string,
      rate = '',
      low,
      high,
    ) => {
      const { symbol, factor } = scaleOf(unit)
      const one = (text: string): string => converted(text, factor)
      const before = between ? `between ${one(first)} and ` : from ? `${one(from)} ${joint} ` : ''
      const after = low ? ` (${one(low)} to ${one(high)})` : ''
      return `${before}${one(last)} ${symbol}${rate}${after}`
    },
  )
