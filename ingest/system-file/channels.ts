import { isDay } from '#analysis/model/samples.ts'
import { type Calibration, type Channel, type ChannelKind, channelKinds } from '#analysis/model/system.ts'
import { parseQuantity } from '#analysis/physics/quantity.ts'
import { findUnit, unknownUnit } from '#analysis/physics/units.ts'
import {
  type Expected,
  gauge,
  later,
  mapping,
  must,
  names,
  nested,
  type Opened,
  positiveAt,
  quantityOf,
  spanAt,
  text,
  textSchema,
  word,
} from './description.ts'
import type { MapView } from './file-view.ts'
import { pair, readScale, readSource, scale, source, unscaled } from './scale.ts'

const calibration = mapping({
  date: must({ schema: textSchema('ISO date'), read: isoDate }),
  due: { schema: textSchema('ISO date'), read: isoDate },
  points: must(later({ type: 'array', items: pair })),
})

export const channel = mapping({
  id: must(text('Name in every result and chart.')),
  measures: must(
    word(
      'Most gauges read zero when open to the air; one that reads the atmosphere then is absolute.',
      channelKinds,
    ),
  ),
  section: later(textSchema('The section it is screwed into; none for the barometer.')),
  places: names('Instead of section, for a gauge that is moved: each hold asks where it is.'),
  from: must(nested(source)),
  unit: text('Of the numbers as the logger sends them: psi, kPa, hPa, degC, V, mA.'),
  scale: nested(scale),
  range: later(
    textSchema('Printed on the gauge, such as 0 psi to 30 psi. A reading at either end counts as clipped.'),
  ),
  resolution: later(
    textSchema('Smallest division of a dial, such as 0.1 psi. Estimated from the readings when absent.'),
  ),
  accuracy: later(textSchema('such as 0.25 % of span')),
  calibration: nested(calibration),
  on: word('what a thermometer touches', ['wall', 'gas', 'air']),
  serial: text('serial number of the sensor'),
})

export function readChannel({ view, value }: Opened<typeof channel>): Channel | null {
  const { id, measures, places, on, serial } = value
  const section = measures && places.length === 0 ? readSectionName(view, measures) : null
  const from = value.from && readSource(value.from, null)
  if (measures === null) return null
  const expected = whatIsMeasured(measures, value.unit)
  // Resolution and accuracy are differences: half a degree Celsius is half a kelvin.
  const { dimension } = expected
  const difference: Expected = {
    dimension: dimension === 'temperature' ? 'temperature-difference' : dimension,
  }
  const { scale, rawUnit } = value.scale ? readScale(value.scale, view, expected, from) : unscaled
  const unit = readUnit(view, value.unit, expected, rawUnit)
  const rangeSi = spanAt(view, 'range', expected, false)
  const resolutionSi = positiveAt(view, 'resolution', difference)
  const accuracySi = readAccuracy(view, difference, rangeSi)
  const calibration = value.calibration && readCalibration(value.calibration, expected)
  if (places.length > 0) checkPlaces(view, measures, places)
  if (on !== null && measures !== 'temperature') view.error('on', 'is for a thermometer only')
  if (id === null || from === null || unit === null) return null
  return {
    id,
    measures,
    section,
    from,
    unit,
    scale,
    rangeSi,
    resolutionSi,
    accuracySi,
    calibration,
    ...(on === null ? {} : { on }),
    ...(serial === null ? {} : { serial }),
    ...(places.length === 0 ? {} : { movable: { id, places } }),
  }
}

/** A movable gauge, as one channel per section it may be on. */
export function atEachPlace(channel: Channel): Channel[] {
  const { movable } = channel
  if (movable === undefined) return [channel]
  return movable.places.map((section) => ({ ...channel, id: `${movable.id}@${section}`, section }))
}

function checkPlaces(view: MapView, measures: ChannelKind, places: readonly string[]): void {
  if (view.node('section') !== null) view.error('places', 'replaces "section": give one of them')
  if (new Set(places).size !== places.length) view.error('places', 'names a section twice')
  if (measures === 'barometric-pressure') view.error('places', 'a barometric pressure belongs to no section')
}

/** Dimension and pressure reference of a channel's readings. A level sender's follow its own unit. */
function whatIsMeasured(measures: ChannelKind, unit: string | null): Expected {
  switch (measures) {
    case 'gauge-pressure':
    case 'reference-pressure':
      return gauge
    case 'absolute-pressure':
    case 'barometric-pressure':
      return { dimension: 'pressure', reference: 'absolute' }
    case 'temperature':
      return { dimension: 'temperature' }
    case 'fuel-flow':
      return { dimension: 'volume-flow' }
    case 'level-sender':
      return { dimension: (unit && findUnit(unit)?.unit.dimension) || 'counts' }
  }
}

function readSectionName(view: MapView, measures: ChannelKind): string | null {
  const isGiven = view.node('section') !== null
  if (measures !== 'barometric-pressure') {
    if (!isGiven) view.missing('section')
    return view.text('section')
  }
  if (isGiven) view.error('section', 'a barometric pressure belongs to no section')
  return null
}

/** Unit of the incoming numbers; with a scale, its raw unit. */
function readUnit(
  view: MapView,
  written: string | null,
  expected: Expected,
  rawUnit: string | null,
): string | null {
  if (rawUnit === null && view.node('unit') === null) view.missing('unit')
  const unit = written ?? rawUnit
  if (unit === null || unit === rawUnit) return unit
  const found = findUnit(unit, expected.dimension)
  if (found === null) view.error('unit', unknownUnit(unit, expected.dimension))
  else if (found.reference && expected.reference && found.reference !== expected.reference)
    view.error(
      'unit',
      `"${unit}" is ${found.reference}, but the channel measures ${expected.reference} pressure`,
    )
  return unit
}

/** `0.25 % of span` (needs a range) or a half-width with its unit (`0.05 psi`, `± 0.5 degC`), in SI. */
function readAccuracy(
  channel: MapView,
  difference: Expected,
  rangeSi: readonly [number, number] | null,
): number | null {
  const written = channel.text('accuracy')?.replace(/^(±|\+\/-)\s*/, '')
  if (written === undefined) return null
  const complain = (wrong: string) => channel.error('accuracy', wrong)
  const ofSpan = parseQuantity(written, 'share-of-span')
  let accuracySi: number | null = null
  if ('fault' in ofSpan) {
    if (written.includes('%')) complain(`"${written}" is not understood; write it like "0.25 % of span"`)
    else accuracySi = quantityOf(written, difference, complain)?.value ?? null
  } else if (rangeSi !== null) accuracySi = ofSpan.value * (rangeSi[1] - rangeSi[0])
  else if (channel.node('range') === null) complain('a share of the span needs the "range" of the channel')
  if (accuracySi !== null && accuracySi <= 0) complain('must be more than zero')
  return accuracySi
}

/** `{ date, due, points: [[true, read], …] }`; the pairs are returned in ascending order of the reading. */
function readCalibration(
  { view, value }: Opened<typeof calibration>,
  expected: Expected,
): Calibration | null {
  const { date, due } = value
  if (date !== null && due !== null && due < date)
    view.error('due', `is before the calibration itself (${date})`)
  const points = readPoints(view, expected)
  return date === null || points.length === 0 ? null : { date, due, points }
}

function readPoints(view: MapView, expected: Expected): (readonly [trueSi: number, readSi: number])[] {
  const { file } = view
  const what = `${view.what}: points`
  const node = view.node('points')
  const pairs = file.items(node, what)
  if (node !== null && pairs.length === 0) view.error('points', 'has no [true, read] pair')
  const points: [trueSi: number, readSi: number][] = []
  for (const pair of pairs) {
    const ends = file.items(pair, `${what}: each point is a pair [true, read]`)
    const [trueSi, readSi] = ends.map((end) => {
      const complain = (wrong: string) => file.error(end, `${what}: ${wrong}`)
      return quantityOf(file.textOf(end) ?? '', expected, complain)?.value ?? null
    })
    if (ends.length !== 2) file.error(pair, `${what}: each point is a pair [true, read]`)
    else if (trueSi != null && readSi != null) points.push([trueSi, readSi])
  }
  points.sort((a, b) => a[1] - b[1])
  let before: (typeof points)[number] | null = null
  for (const point of points) {
    if (point[1] === before?.[1]) view.error('points', 'two points have the same reading')
    else if (before !== null && point[0] <= before[0])
      view.error('points', 'the true value does not rise with the reading; each pair is [true, read]')
    before = point
  }
  return points
}

function isoDate(view: MapView, key: string): string | null {
  const written = view.text(key)
  if (written === null || isDay(written)) return written
  view.error(key, `"${written}" is not a date; write it like 2026-03-02`)
  return null
}
