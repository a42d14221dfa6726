import type { Estimate } from '#analysis/model/hold-result.ts'
import { shownUnits } from '#analysis/physics/unit-table.ts'
import { toUnit } from '#analysis/physics/units.ts'
import { inDigits } from '#analysis/reasons/language.ts'
import { barometerUnit, pressureUnit, temperatureUnit, volumeUnit } from './settings.ts'

/** A display unit as a linear map: shown = SI · slope + offset. Fast, since charts convert thousands of numbers a frame. */
export interface Display {
  readonly symbol: string
  readonly slope: number
  readonly offset: number
  /** Decimals of a reading at rest. */
  readonly decimals: number
}

function displayIn(
  kind: keyof typeof shownUnits,
  unit: string,
  dimension: 'pressure' | 'temperature' | 'volume',
): Display {
  const offset = toUnit(0, unit, dimension)
  return {
    offset,
    // Over a wide span, so that the offset of a temperature scale costs no precision.
    slope: (toUnit(1e6, unit, dimension) - offset) / 1e6,
    symbol: unit.replace(/^deg/, '°'),
    decimals: shownUnits[kind].find(({ symbol }) => symbol === unit)?.decimals ?? 3,
  }
}

/** Reads signals: a component that calls these is updated when the units change. */
export const pressure = (): Display => displayIn('gauge', pressureUnit.value, 'pressure')
export const barometer = (): Display => displayIn('barometer', barometerUnit.value, 'pressure')
export const temperature = (): Display => displayIn('temperature', temperatureUnit.value, 'temperature')
export const volume = (): Display => displayIn('volume', volumeUnit.value, 'volume')

/** Display unit of a channel's readings. */
export function displayOf(measures: string): Display {
  if (measures === 'temperature') return temperature()
  if (measures === 'barometric-pressure' || measures === 'absolute-pressure') return barometer()
  if (measures.endsWith('pressure')) return pressure()
  return { symbol: '', slope: 1, offset: 0, decimals: 3 }
}

/** A number with a true minus sign and fixed decimals; an en dash for no number. */
export function digits(value: number | null | undefined, decimals: number): string {
  if (value === null || value === undefined || !Number.isFinite(value)) return '–'
  return inDigits(value, decimals).replace('-', '−')
}

/** A typed number, with a decimal comma or point; NaN for anything else. */
export const numberOf = (typed: string): number =>
  typed.trim() === '' ? Number.NaN : Number(typed.trim().replace(',', '.').replace('−', '-'))

/** Two significant figures, for a number from an estimate: 0.0034, 1.2, 140. */
export function twoFigures(value: number): string {
  const size = Math.abs(value)
  if (!(size > 1e-12)) return '0'
  const decimals = Math.max(0, 1 - Math.floor(Math.log10(size) + 1e-9))
  return digits(decimals > 0 ? value : Number(value.toPrecision(2)), Math.min(decimals, 9))
}

export const shown = (si: number, display: Display): number => si * display.slope + display.offset

export const withUnit = (
  si: number | null | undefined,
  display: Display,
  decimals = display.decimals,
): string =>
  si === null || si === undefined ? '–' : `${digits(shown(si, display), decimals)} ${display.symbol}`.trim()

/** A pressure difference: the offset of the scale cancels. */
export const pressureDifference = (si: number | null | undefined, decimals = pressure().decimals): string => {
  const { slope, symbol } = pressure()
  return si === null || si === undefined ? '–' : `${digits(si * slope, decimals)} ${symbol}`
}

/** Decimals, at most three more than usual, so that no bound rounds to the limit. */
export function decimalsBeside(limit: number, bounds: readonly (number | null)[], usual: number): number {
  const most = usual + 3
  for (let decimals = usual; decimals < most; decimals++)
    if (bounds.every((one) => one === limit || digits(one, decimals) !== digits(limit, decimals)))
      return decimals
  return most
}

/** Decimals of a leak's interval, [Pa], beside the allowance. */
export function leakDecimals({ low, high }: Estimate, allowancePa: number): number {
  const { slope, decimals } = pressure()
  // An unknown bound arrives as null in JSON.
  const bounds = [low, high].map((one) => (typeof one === 'number' ? one * slope : null))
  return decimalsBeside(allowancePa * slope, bounds, decimals)
}

/** `0 degC, 101.325 kPa` in common notation: the reference keeps its own units. */
export const conditions = (reference: string): string => reference.replace(/ deg([CF])\b/g, ' °$1')

/** `4:05`, `1:02:09`; for a countdown and for the time axis. */
export function clock(seconds: number): string {
  const whole = Math.max(0, Math.round(seconds))
  const two = (n: number): string => String(n).padStart(2, '0')
  const hours = Math.floor(whole / 3600)
  const minutes = Math.floor(whole / 60) % 60
  return hours > 0 ? `${hours}:${two(minutes)}:${two(whole % 60)}` : `${minutes}:${two(whole % 60)}`
}

/** The Swedish locale formats dates as ISO 8601. */
const iso8601 = 'sv-SE'

/** Date and time in ISO 8601, in the zone of this device. */
export function moment(iso: string): string {
  const at = new Date(iso)
  return Number.isNaN(at.getTime())
    ? iso
    : at.toLocaleString(iso8601, { dateStyle: 'short', timeStyle: 'short' })
}

/** `14:05:33` in the zone of this device. */
export const clockTime = (iso: string): string => new Date(iso).toLocaleTimeString(iso8601)

/** `UTC+1`, `UTC−3:30`: the zone of this device at that time. */
export function zoneAt(iso: string): string {
  const parts = new Intl.DateTimeFormat('en', { timeZoneName: 'shortOffset' }).formatToParts(new Date(iso))
  const name = parts.find(({ type }) => type === 'timeZoneName')?.value ?? ''
  return name === 'GMT' ? 'UTC+0' : name.replace('GMT', 'UTC').replace('-', '−')
}
