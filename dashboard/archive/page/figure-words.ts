import type { Estimate } from '#analysis/model/hold-result.ts'
import { toUnit } from '#analysis/physics/units.ts'

/** Rounds to this many significant digits, without exponents for typical bench values. */
export function figure(value: number, digits = 3): string {
  if (!Number.isFinite(value)) return '–'
  if (value === 0) return '0'
  const exponent = Math.floor(Math.log10(Math.abs(value)))
  if (exponent < -5 || exponent > 6) return minus(value.toExponential(digits - 1))
  return minus(value.toFixed(Math.max(0, Math.min(8, digits - 1 - exponent))))
}

/** A stated number in its original digits: at most this many significant digits, no trailing zeros. */
export function stated(value: number, digits = 4): string {
  if (!Number.isFinite(value)) return '–'
  const rounded = Number(value.toPrecision(digits))
  return Math.abs(rounded) >= 1e7 || (rounded !== 0 && Math.abs(rounded) < 1e-5)
    ? figure(value, digits)
    : minus(String(rounded))
}

/** An estimate with its interval: `0.13 scc/min (0.12 to 0.15)`. */
export function intervalWords({ value, low, high }: Estimate, unit = ''): string {
  return `${figure(value)}${unit && ` ${unit}`} (${figure(low)} to ${figure(high)})`
}

/** A number with fixed decimals and a true minus sign. */
export function fixed(value: number, decimals: number): string {
  if (!Number.isFinite(value)) return '–'
  const text = value.toFixed(decimals)
  return Number(text) === 0 ? text.replace('-', '') : minus(text)
}

/** A pressure in the bench's unit with pascals beside it: `10.00 psi (68.95 kPa)`. */
export function pressureWords(pa: number, unit: string, digits = 4): string {
  const own = `${stated(toUnit(pa, unit, 'pressure'), digits)} ${unit}`
  if (unit === 'kPa' || unit === 'Pa') return own
  return Math.abs(pa) < 1000 ? `${own} (${stated(pa, 3)} Pa)` : `${own} (${stated(pa / 1000, digits)} kPa)`
}

export function celsius(kelvin: number): string {
  return temperatureWords(kelvin, 'degC')
}

export function temperatureWords(kelvin: number, unit: 'degC' | 'degF'): string {
  return `${fixed(toUnit(kelvin, unit, 'temperature'), 1)} ${unit === 'degF' ? '°F' : '°C'}`
}

/** `2026-04-11 09:30 UTC`. */
export function utcMinute(iso: string): string {
  return `${iso.slice(0, 10)} ${iso.slice(11, 16)} UTC`
}

/** `0 degC, 101.325 kPa` → `0 °C, 101.325 kPa`. */
export function conditionsWords(reference: string): string {
  return reference.replace(/\s*deg([CF])\b/g, ' °$1')
}

/** A hash in groups of eight, for reading aloud. */
export function grouped(hex: string, size = 8): string {
  return hex.match(new RegExp(`.{1,${size}}`, 'g'))?.join(' ') ?? ''
}

function minus(text: string): string {
  return text.replaceAll('-', '−')
}
