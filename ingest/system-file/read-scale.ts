import type { Node } from 'yaml'
import type { ChannelScale, ChannelSource } from '#analysis/model/system.ts'
import type { FileView, MapView } from './file-view.ts'
import { type Expected, positiveQuantity, quantityOf } from './read-quantity.ts'
import { readSource } from './read-source.ts'

const scaleKeys = ['linear', 'ratiometric', 'rail', 'ntc', 'pt'] as const

/** One line of a scale: what the logger sends and what it means. */
interface ScalePoint {
  readonly raw: number
  readonly rawUnit: string
  readonly si: number
}

/**
 * How raw numbers become a reading:
 *
 *     scale: { linear: [[4 mA, 0 psi], [20 mA, 30 psi]] }
 *     scale: { ratiometric: [[10 %, 0 psi], [90 %, 30 psi]], rail: { field: vcc } }
 *     scale: { ntc: { at-25C: 10 kohm, beta: 3950 K } }
 *     scale: { pt: 1000 ohm }                          # at 0 °C
 *
 * `rawUnit` is what the logger sends; null when there is no scale.
 */
export function readScale(
  channel: MapView,
  expected: Expected,
  from: ChannelSource | null,
): { scale: ChannelScale | null; rawUnit: string | null } {
  const none = { scale: null, rawUnit: null }
  const node = channel.node('scale')
  if (node === null) return none
  const view = channel.file.open(node, `${channel.what}: scale`, scaleKeys)
  if (view === null) return none
  const kinds = (['linear', 'ratiometric', 'ntc', 'pt'] as const).filter((kind) => view.node(kind) !== null)
  if (kinds.length !== 1) {
    channel.error('scale', 'give exactly one of linear, ratiometric, ntc, pt')
    return none
  }
  const kind = kinds[0]
  if (kind !== 'ratiometric' && view.node('rail') !== null)
    view.error('rail', 'belongs to a ratiometric scale')
  if (kind === 'linear') return readLinear(view, expected)
  if (kind === 'ratiometric') return { scale: readRatiometric(view, expected, from), rawUnit: 'V' }
  if (expected.dimension !== 'temperature')
    view.error(kind, 'turns ohms into a temperature; this channel is none')
  return { scale: kind === 'ntc' ? readNtc(view) : readPt(view), rawUnit: 'ohm' }
}

function readLinear(
  view: MapView,
  expected: Expected,
): { scale: ChannelScale | null; rawUnit: string | null } {
  const points = readScalePoints(view, 'linear', (text) => rawNumber(text), expected)
  if (points === null) return { scale: null, rawUnit: null }
  const [a, b] = points
  if (a.rawUnit !== b.rawUnit) {
    view.error('linear', `mixes "${a.rawUnit}" and "${b.rawUnit}"; the logger sends one of them`)
  }
  const slopeSi = (b.si - a.si) / (b.raw - a.raw)
  return { scale: { kind: 'linear', slopeSi, offsetSi: a.si - slopeSi * a.raw }, rawUnit: a.rawUnit }
}

function readRatiometric(view: MapView, expected: Expected, from: ChannelSource | null): ChannelScale | null {
  const points = readScalePoints(view, 'ratiometric', ratio, expected)
  const rail = readSource(view.file, view.required('rail'), `${view.what}: rail`, from)
  if (points === null || rail === null) return null
  const [low, high] = points[0].raw < points[1].raw ? points : [points[1], points[0]]
  return { kind: 'ratiometric', rail, lowRatio: low.raw, highRatio: high.raw, lowSi: low.si, highSi: high.si }
}

function readNtc(view: MapView): ChannelScale | null {
  const node = view.node('ntc')
  const ntc = view.file.open(node, `${view.what}: ntc`, ['at-25C', 'beta'])
  if (ntc === null) return null
  const ohmsAt25C = positiveQuantity(ntc, 'at-25C', { dimension: 'resistance' }, true)
  const betaK = positiveQuantity(ntc, 'beta', { dimension: 'temperature-difference' }, true)
  return ohmsAt25C === null || betaK === null ? null : { kind: 'ntc', ohmsAt25C, betaK }
}

function readPt(view: MapView): ChannelScale | null {
  const ohmsAt0C = positiveQuantity(view, 'pt', { dimension: 'resistance' })
  return ohmsAt0C === null ? null : { kind: 'pt', ohmsAt0C }
}

type RawReader = (text: string) => { raw: number; unit: string } | null

/** Exactly two `[raw, meaning]` pairs with different raw numbers and different meanings. */
function readScalePoints(
  view: MapView,
  key: 'linear' | 'ratiometric',
  readRaw: RawReader,
  expected: Expected,
): readonly [ScalePoint, ScalePoint] | null {
  const { file } = view
  const what = `${view.what}: ${key}`
  const example = key === 'linear' ? '[[4 mA, 0 psi], [20 mA, 30 psi]]' : '[[10 %, 0 psi], [90 %, 30 psi]]'
  const items = file.items(view.node(key), what)
  const points = items.map((item) => readScalePoint(file, item, what, example, readRaw, expected))
  if (items.length !== 2) {
    view.error(key, `needs two points, like ${example}`)
    return null
  }
  const [a, b] = points
  if (!a || !b) return null
  if (a.raw === b.raw || a.si === b.si) {
    view.error(key, 'the two points must differ on both sides')
    return null
  }
  return [a, b]
}

function readScalePoint(
  file: FileView,
  node: Node,
  what: string,
  example: string,
  readRaw: RawReader,
  expected: Expected,
): ScalePoint | null {
  const [rawNode, meaningNode, more] = file.items(node, what)
  if (!rawNode || !meaningNode || more) {
    file.error(node, `${what}: each point is a pair [sent, meaning], like ${example}`)
    return null
  }
  const raw = readRaw(file.textOf(rawNode) ?? '')
  if (raw === null)
    file.error(rawNode, `${what}: "${file.textOf(rawNode) ?? ''}" is not understood, write ${example}`)
  const complain = (wrong: string) => file.error(meaningNode, `${what}: ${wrong}`)
  const meaning = quantityOf(file.textOf(meaningNode) ?? '', expected, complain)
  return raw && meaning ? { raw: raw.raw, rawUnit: raw.unit, si: meaning.value } : null
}

/** What a logger sends is taken as it comes: the unit is its name and converts into nothing. */
function rawNumber(text: string): { raw: number; unit: string } | null {
  const match = /^([+-]?(?:\d+\.?\d*|\.\d+)(?:[eE][+-]?\d+)?)\s*(.*)$/.exec(text)
  return match && { raw: Number(match[1]), unit: match[2] === '' ? 'counts' : match[2] }
}

/** Share of the rail: `10 %` or `0.1`. */
function ratio(text: string): { raw: number; unit: string } | null {
  const read = rawNumber(text)
  if (read === null || (read.unit !== '%' && read.unit !== 'counts')) return null
  return { raw: read.unit === '%' ? read.raw / 100 : read.raw, unit: 'V' }
}
