import type { Channel, ChannelKind, ThermometerPlace } from '#analysis/model/system.ts'
import { findUnit, unknownUnit } from '#analysis/physics/units.ts'
import type { MapView } from './file-view.ts'
import { readAccuracy } from './read-accuracy.ts'
import { readCalibration } from './read-calibration.ts'
import { type Expected, positiveQuantity, span } from './read-quantity.ts'
import { readScale } from './read-scale.ts'
import { readSource } from './read-source.ts'

export const channelKeys = [
  'id',
  'measures',
  'section',
  'places',
  'from',
  'unit',
  'scale',
  'range',
  'resolution',
  'accuracy',
  'calibration',
  'on',
  'serial',
] as const

export const channelKinds: readonly ChannelKind[] = [
  'gauge-pressure',
  'absolute-pressure',
  'temperature',
  'barometric-pressure',
  'reference-pressure',
  'level-sender',
  'fuel-flow',
]

export function readChannel(view: MapView): Channel | null {
  const id = view.requiredText('id')
  const measures = view.word('measures', channelKinds, true)
  const places = view.words('places')
  const section = measures && places.length === 0 ? readSectionName(view, measures) : null
  const from = readSource(view.file, view.required('from'), `${view.what}: from`, null)
  if (measures === null) return null
  const expected = whatIsMeasured(measures, view.text('unit'))
  const { scale, rawUnit } = readScale(view, expected, from)
  const unit = readUnit(view, expected, rawUnit)
  const rangeSi = span(view, 'range', expected, false)
  const resolutionSi = positiveQuantity(view, 'resolution', differenceOf(expected))
  const accuracySi = readAccuracy(view, differenceOf(expected), rangeSi)
  const calibration = readCalibration(view, expected)
  const on = view.word('on', ['wall', 'gas', 'air'] as const satisfies readonly ThermometerPlace[], false)
  if (places.length > 0) checkPlaces(view, measures, places)
  if (on !== null && measures !== 'temperature') view.error('on', 'says what a thermometer touches')
  const serial = view.text('serial')
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

/** A gauge that is moved, as one channel for each section it may be on. */
export function atEachPlace(channel: Channel): Channel[] {
  const { movable } = channel
  if (movable === undefined) return [channel]
  return movable.places.map((section) => ({ ...channel, id: `${movable.id}@${section}`, section }))
}

function checkPlaces(view: MapView, measures: ChannelKind, places: readonly string[]): void {
  if (view.node('section') !== null) view.error('places', 'stands in place of "section": give one of them')
  if (new Set(places).size !== places.length) view.error('places', 'names a section twice')
  if (measures === 'barometric-pressure') view.error('places', 'a barometric pressure belongs to no section')
}

/** Dimension and pressure reference of a channel's readings. A level sender's follow its own unit. */
function whatIsMeasured(measures: ChannelKind, unit: string | null): Expected {
  switch (measures) {
    case 'gauge-pressure':
    case 'reference-pressure':
      return { dimension: 'pressure', reference: 'gauge' }
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

/** Resolution and accuracy are differences: half a degree Celsius is half a kelvin. */
function differenceOf(expected: Expected): Expected {
  return { dimension: expected.dimension === 'temperature' ? 'temperature-difference' : expected.dimension }
}

function readSectionName(view: MapView, measures: ChannelKind): string | null {
  if (measures !== 'barometric-pressure') return view.requiredText('section')
  if (view.node('section') !== null) view.error('section', 'a barometric pressure belongs to no section')
  return null
}

/** Unit of the incoming numbers: with a scale it is what the scale says the logger sends. */
function readUnit(view: MapView, expected: Expected, rawUnit: string | null): string | null {
  const unit = rawUnit === null ? view.requiredText('unit') : (view.text('unit') ?? rawUnit)
  if (unit === null || unit === rawUnit) return unit
  const found = findUnit(unit, expected.dimension)
  if (found === null) view.error('unit', unknownUnit(unit, expected.dimension))
  else if (found.reference && expected.reference && found.reference !== expected.reference) {
    view.error(
      'unit',
      `"${unit}" is ${found.reference}, but the channel measures ${expected.reference} pressure`,
    )
  }
  return unit
}
