import { t } from '#analysis/reasons/language.ts'
import type { SeenField } from '#dashboard/api.ts'

export const where = (one: Pick<SeenField, 'measurement' | 'field' | 'tags'>): string =>
  [
    `${one.measurement}.${one.field}`,
    ...Object.entries(one.tags).map(([key, value]) => `${key}=${value}`),
  ].join(' ')

/** A number of the logger as the source of a channel, by the paths of its keys. */
export const sourceOf = ({ measurement, field, tags }: SeenField) => ({
  'from.measurement': measurement,
  'from.field': field,
  ...(Object.keys(tags).length > 0 && { 'from.tags': tags }),
})

/** Values of one number of the logger at rest and since then. */
export interface Watched {
  readonly seen: SeenField
  readonly rest: readonly number[]
  readonly since: readonly number[]
}

/** A number that moved far beyond its noise at rest. */
export interface Mover {
  readonly seen: SeenField
  readonly rest: number
  /** The value furthest from rest. */
  readonly peak: number
}

/** Detection threshold in multiples of the noise at rest, and the least noise as a share of the value. Own figures. */
const timesRest = 8
const leastShare = 0.002
/** Largest change between two readings of a number that stands still, in multiples of the noise at rest. Own figure. */
const stillTimes = 4

/** The numbers that moved, clearest first. A number that counts up at rest is a line number or a clock, not a sensor. */
export function whoMoved(watched: Iterable<Watched>): readonly Mover[] {
  const found = [...watched].flatMap(({ seen, rest, since }) => {
    if (rest.length < 4 || since.length === 0) return []
    if (rest.slice(1).every((one, i) => one > rest[i]!)) return []
    const middle = [...rest].sort((a, b) => a - b)[rest.length >> 1]!
    const peak = since.reduce(
      (far, one) => (Math.abs(one - middle) > Math.abs(far - middle) ? one : far),
      middle,
    )
    const largest = Math.max(Math.abs(middle), Math.abs(peak))
    const restless = Math.max(Math.max(...rest) - Math.min(...rest), leastShare * largest)
    // Still moving: the unit guessed from half a squeeze may be the wrong one.
    const [before, last] = since.slice(-2)
    if (before !== undefined && last !== undefined && Math.abs(last - before) > stillTimes * restless)
      return []
    const score = Math.abs(peak - middle) / restless
    return score >= timesRest ? [{ seen, rest: middle, peak, score }] : []
  })
  return found.sort((a, b) => b.score - a.score)
}

/** Probable settings of a number's channel; the user confirms them. */
export interface Guess {
  readonly measures: 'gauge-pressure' | 'absolute-pressure' | 'temperature' | 'barometric-pressure'
  readonly unit: string
  readonly range?: string
  /** The reason, in a sentence. */
  readonly why: string
}

/** A standard atmosphere in the units that loggers send, [Pa] for each. */
const pascals = {
  psi: 6894.757,
  kPa: 1000,
  hPa: 100,
  bar: 1e5,
  inHg: 3386.39,
  mmHg: 133.322,
  Pa: 1,
} as const
type Unit = keyof typeof pascals
const units = Object.keys(pascals) as Unit[]
const standardPa = 101_325
/** From sea level to 2,000 m the atmosphere is within these shares of the standard one. */
const lowestShare = 0.78
const highestShare = 1.07
/** Typical pressure of a bulb or a breath; people and bulbs differ by a factor of four each way. Own figure. */
const squeezePa = 10_000

const near = (value: number, target: number): number => Math.abs(Math.log(value / target))
const closest = (value: number, target: number, among = units): Unit =>
  among.reduce((best, unit) =>
    near(value * pascals[unit], target) < near(value * pascals[best], target) ? unit : best,
  )

/** The unit in which a number equals atmospheric pressure; null: none. */
export function atmosphereUnit(value: number, barometerPa: number | null): Unit | null {
  const target = barometerPa ?? standardPa
  const fits = units.filter((unit) => {
    const share = (value * pascals[unit]) / target
    return barometerPa === null ? share > lowestShare && share < highestShare : Math.abs(share - 1) < 0.02
  })
  return fits.length === 0 ? null : closest(value, target, fits)
}

/** Common gauge spans in any unit, times any power of ten. */
const spans = [1, 1.5, 2, 3, 4, 5, 6, 10]
function spanOver(least: number): number {
  const decade = 10 ** Math.floor(Math.log10(least))
  return Number((decade * spans.find((one) => one * decade >= least)!).toPrecision(2))
}

/** @param atLeastPa largest test pressure of the file, which the span must include */
export function guessGauge(
  { seen, rest, peak }: Mover,
  barometerPa: number | null,
  atLeastPa: number,
): Guess {
  const absolute = atmosphereUnit(rest, barometerPa)
  const rise = Math.abs(peak - rest)
  const said = units.find((one) => one === seen.unit) ?? null
  const unit = said ?? absolute ?? closest(rise, squeezePa)
  const least = Math.max(1.5 * rise, (1.3 * atLeastPa) / pascals[unit])
  const whyUnit = said
    ? t`The logger writes ${said}.`
    : t`The unit is guessed from ${rise.toPrecision(2)} at the squeeze.`
  if (absolute !== null)
    return {
      measures: 'absolute-pressure',
      unit,
      range: `0 ${unit} to ${spanOver(least + standardPa / pascals[unit])} ${unit}`,
      why: t`It reads the atmosphere at rest, ${rest.toPrecision(4)}: an absolute gauge.`,
    }
  return {
    measures: 'gauge-pressure',
    unit,
    range: `0 ${unit} to ${spanOver(least)} ${unit}`,
    why:
      Math.abs(rest) > 0.3 * rise
        ? t`It reads ${rest.toPrecision(3)} at rest, not zero: if these are volts or counts, write its scale in the file.`
        : t`It reads about zero at rest: a gauge. ${whyUnit}`,
  }
}

export function guessThermometer({ seen, rest }: Mover): Guess {
  const unit = seen.unit ?? (rest > 200 ? 'K' : rest > 45 ? 'degF' : 'degC')
  return {
    measures: 'temperature',
    unit,
    why: t`It reads ${rest.toPrecision(3)} at rest, as a room does in ${unit}.`,
  }
}
