import { isSectionPressure, type System } from '#analysis/model/system.ts'
import { findUnit, toUnit, unknownUnit } from '#analysis/physics/units.ts'
import { inDigits } from './language.ts'

/** Display units of sentences and tables. Each is a symbol of the unit table. */
export interface DisplayUnits {
  readonly pressure: string
  readonly temperature: 'degC' | 'degF'
  readonly volume: string
}

/** The aircraft's units: those of its first gauge and thermometer that state a unit; kPa, °C and L without one. */
export function unitsOfSystem(system: System | null, sections?: readonly string[]): DisplayUnits {
  const channels = system?.channels ?? []
  const ofSections = ({ section }: { section: string | null }): boolean =>
    sections === undefined || (section !== null && sections.includes(section))
  const gauge =
    channels.find((c) => isSectionPressure(c.measures) && c.scale === null && ofSections(c)) ??
    channels.find((c) => isSectionPressure(c.measures) && c.scale === null)
  const thermometer = channels.find((c) => c.measures === 'temperature' && c.scale === null)
  const pressure = gauge === undefined ? undefined : findUnit(gauge.unit, 'pressure')?.unit.symbol
  const fahrenheit =
    thermometer !== undefined && findUnit(thermometer.unit, 'temperature')?.unit.symbol === 'degF'
  return { pressure: pressure ?? 'kPa', temperature: fahrenheit ? 'degF' : 'degC', volume: 'L' }
}

/**
 * Parses the units that a reader names, as in `kPa` or `psi,degF,US gal`; other kinds keep their unit.
 *
 * @throws RangeError naming a text that is not a unit of pressure, temperature or volume
 */
export function unitsNamed(text: string, otherwise: DisplayUnits): DisplayUnits {
  let { pressure, temperature, volume } = otherwise
  for (const name of text.split(',').filter((one) => one.trim() !== '')) {
    const { symbol, dimension } = findUnit(name)?.unit ?? {}
    if (symbol !== undefined && dimension === 'pressure') pressure = symbol
    else if (symbol !== undefined && dimension === 'volume') volume = symbol
    else if (symbol === 'degC' || symbol === 'degF') temperature = symbol
    else throw new RangeError(unknownUnit(name, 'pressure'))
  }
  return { pressure, temperature, volume }
}

/** A number with three significant digits, without an exponent and without trailing zeros. */
export function threeDigits(value: number): string {
  return inDigits(Number(value.toPrecision(3)))
}

/** Duration for people: `45 s`, `1 min 40 s`, `10 min`, `1 h 30 min`. */
export function duration(seconds: number): string {
  const whole = Math.max(0, Math.round(seconds))
  if (whole < 60) return `${seconds > 0 && whole === 0 ? threeDigits(seconds) : whole} s`
  const rest = whole % 60
  if (whole < 600 && rest > 0) return `${Math.floor(whole / 60)} min ${rest} s`
  const minutes = Math.round(whole / 60)
  if (minutes < 90) return `${minutes} min`
  return minutes % 60 === 0 ? `${minutes / 60} h` : `${Math.floor(minutes / 60)} h ${minutes % 60} min`
}

/** A probability without false certainty: `< 1 %`, `> 99 %`. */
export function percentOf(probability: number): string {
  if (probability < 0.01) return '< 1 %'
  return probability > 0.99 ? '> 99 %' : `${Math.round(probability * 100)} %`
}

/** Formats SI figures in the units of a reader. */
export interface FigureWords {
  /** `10 psi` of [Pa]. */
  pressure(pa: number): string
  /** A lower or upper bound with enough digits to distinguish it from a limit. */
  bound(value: number, limit: number, unit?: string): string
  /** `21.5 °C` of [K]. */
  temperature(kelvin: number): string
  /** `0.9 °F` of a difference in [K]. */
  kelvins(difference: number): string
  /** `0.5 L` of [m³]. */
  volume(m3: number): string
}

/** Three digits, or up to six if needed to distinguish the value from the limit. */
function digitsBeside(value: number, limit: number): string {
  for (let digits = 3; digits < 6; digits++) {
    const shown = Number(value.toPrecision(digits))
    if (shown !== Number(limit.toPrecision(digits))) return inDigits(shown)
  }
  return inDigits(Number(value.toPrecision(6)))
}

export function figuresIn(units: DisplayUnits): FigureWords {
  const inPressure = (pa: number): number => toUnit(pa, units.pressure, 'pressure')
  return {
    pressure: (pa) => `${threeDigits(inPressure(pa))} ${units.pressure}`,
    bound: (value, limit, unit) =>
      unit === undefined
        ? `${digitsBeside(inPressure(value), inPressure(limit))} ${units.pressure}`
        : `${digitsBeside(value, limit)} ${unit}`,
    temperature: (kelvin) =>
      `${threeDigits(toUnit(kelvin, units.temperature, 'temperature'))} ${units.temperature === 'degF' ? '°F' : '°C'}`,
    kelvins: (difference) =>
      units.temperature === 'degF' ? `${threeDigits(1.8 * difference)} °F` : `${threeDigits(difference)} °C`,
    volume: (m3) => `${threeDigits(toUnit(m3, units.volume, 'volume'))} ${units.volume}`,
  }
}
