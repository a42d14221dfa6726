import { type Channel, type HoldSpec, isSectionPressure, type System } from '#analysis/model/system.ts'
import { standardAtmospherePa } from '#analysis/physics/ideal-gas.ts'
import { findUnit, fromUnit } from '#analysis/physics/units.ts'
import type { FigureWords } from '#analysis/reasons/figures.ts'
import type { NewestReading, StartCheck } from '#dashboard/api.ts'

export interface SensorsNow {
  /** Newest reading of each channel, zeros applied, SI. */
  readonly newest: Readonly<Record<string, NewestReading>>
  /** Unit that the logger writes with a channel's number; null when it writes none. */
  unitOf(channel: Channel): string | null
  /** Formatter for the reader's units. */
  readonly figures: FigureWords
  /** Whether a movable gauge is marked on the channel's section. */
  isPlaced(channel: Channel): boolean
}

/** Maximum reading of a vented gauge relative to the test pressure; beyond it, the unit or the zero is wrong. */
const openPart = 0.05
const wrongPart = 0.3
/** A reading may exceed the stated span by this fraction of it. */
const spanPart = 0.02
/** Plausible atmospheres, from 3,000 m to the deepest valley, [Pa]; and temperatures of a hangar, [K]. */
const atmospherePa = [68_000, 108_000] as const
const hangarK = [223, 343] as const
/** Maximum difference between an absolute gauge of a vented section and a barometer, [Pa]. */
const apartPa = 5000

/** Checks each sensor before a hold: alive, missing, or in contradiction with the system file. */
export function startChecks(spec: HoldSpec, system: System, now: SensorsNow): StartCheck[] {
  return system.channels
    .filter(({ section }) => section === null || spec.sections.includes(section))
    .flatMap((channel): StartCheck[] => {
      const needed = neededFor(channel, spec, system)
      if (needed === null) return []
      const { movable, section } = channel
      if (movable && section !== null && !now.isPlaced(channel)) {
        const message = `Screw ${movable.id} on at ${section}, and confirm it here.`
        return [{ channel: channel.id, state: needed, message, place: { gauge: movable.id, section } }]
      }
      const wrong = contradiction(channel, spec, system, now)
      if (wrong !== null) return [{ channel: channel.id, state: 'blocks', message: wrong }]
      const missing = missingWords(channel, now)
      if (missing !== null) return [{ channel: channel.id, state: needed, message: missing }]
      const message = notAtZero(channel, spec, now)
      return [{ channel: channel.id, state: message ? 'notice' : 'ready', message }]
    })
}

/** Effect of a missing channel; null when no hold needs it. One of two gauges of a section may be missing. */
function neededFor({ id, measures, section }: Channel, spec: HoldSpec, system: System) {
  if (measures === 'temperature' || measures === 'barometric-pressure') return 'notice'
  if (!isSectionPressure(measures) || section === null || !spec.sections.includes(section)) return null
  const others = system.channels.some(
    (one) => one.id !== id && one.section === section && isSectionPressure(one.measures),
  )
  return others ? 'notice' : 'blocks'
}

function missingWords({ id, measures }: Channel, { newest }: SensorsNow): string | null {
  const last = newest[id]
  const how =
    last === undefined
      ? 'no data yet'
      : last.quietS != null
        ? `no reading for ${Math.round(last.quietS)} s`
        : null
  if (how === null) return null
  const means = isSectionPressure(measures)
    ? 'connect it, or check Setup, Ports'
    : `without it the ${measures === 'temperature' ? 'temperature' : 'weather'} is unknown and the interval is wider`
  return `${id}: ${how}. ${means.charAt(0).toUpperCase()}${means.slice(1)}.`
}

/** One sentence on an implausible reading; null when nothing contradicts the file. */
function contradiction(channel: Channel, spec: HoldSpec, system: System, now: SensorsNow): string | null {
  const { id, measures } = channel
  const unit = now.unitOf(channel)
  const otherUnit = unit === null ? null : unitThatDiffers(channel, unit)
  if (otherUnit !== null) return otherUnit
  const last = now.newest[id]
  if (last === undefined || last.quietS != null) return null
  const { reading } = last
  const { figures } = now
  const says = `${id} reads ${measures === 'temperature' ? figures.temperature(reading) : figures.pressure(reading)}`
  const check = `Check its unit in the system file (now ${channel.unit}).`
  const [low, high] = channel.rangeSi ?? [Number.NEGATIVE_INFINITY, Number.POSITIVE_INFINITY]
  if (reading > high + spanPart * (high - low) || reading < low - spanPart * (high - low))
    return `${says}, outside its span. ${check}`
  if (measures === 'barometric-pressure' && !isWithin(reading, atmospherePa))
    return `${says}, outside any real atmosphere. ${check}`
  if (measures === 'temperature' && !isWithin(reading, hangarK)) return `${says}. ${check}`
  if (measures === 'absolute-pressure') {
    const barometer = system.channels.find((one) => one.measures === 'barometric-pressure')
    const airPa = barometer && now.newest[barometer.id]?.reading
    const isApart = airPa ? Math.abs(reading - airPa) > apartPa : !isWithin(reading, atmospherePa)
    if (isApart)
      return `${says} before the pump-up, and the atmosphere is ${airPa ? figures.pressure(airPa) : `about ${figures.pressure(standardAtmospherePa)}`}: vent the section. ${check}`
  }
  if (measures === 'gauge-pressure' && Math.abs(reading) > wrongPart * Math.abs(spec.pressurePa))
    return isWithin(reading, atmospherePa)
      ? `${says} before the pump-up, as an absolute gauge does: vent the section, or write measures: absolute-pressure.`
      : `${says} before the pump-up: vent the section first. If it is vented, its zero or its unit (${channel.unit}) is wrong.`
  return null
}

/** The logger writes another unit than the file states; null when both are the same. */
function unitThatDiffers({ id, unit, scale, measures }: Channel, written: string): string | null {
  if (scale !== null) return null
  const found = findUnit(written, measures === 'temperature' ? 'temperature' : 'pressure')
  const stated = findUnit(unit)
  if (found === null || stated === null) return null
  const says = `${id}: the logger sends ${written}, the system file says ${unit}`
  if (found.unit.symbol !== stated.unit.symbol) {
    const isSame =
      found.unit.dimension === stated.unit.dimension &&
      Math.abs(fromUnit(1, found.unit.symbol) - fromUnit(1, stated.unit.symbol)) <
        1e-6 * fromUnit(1, stated.unit.symbol)
    if (!isSame) return `${says}. Write unit: ${found.unit.symbol}.`
  }
  if (found.reference === 'absolute' && measures === 'gauge-pressure')
    return `${says} and gauge-pressure. Write measures: absolute-pressure.`
  if (found.reference === 'gauge' && measures !== 'gauge-pressure') return `${says}, and ${measures}.`
  return null
}

function notAtZero({ id, measures }: Channel, spec: HoldSpec, { newest, figures }: SensorsNow): string {
  const last = newest[id]
  if (measures !== 'gauge-pressure' || last === undefined) return ''
  if (Math.abs(last.reading) < openPart * Math.abs(spec.pressurePa)) return ''
  return `${id} reads ${figures.pressure(last.reading)}, too far from zero: is the section vented?`
}

const isWithin = (value: number, [low, high]: readonly [number, number]): boolean =>
  value >= low && value <= high
