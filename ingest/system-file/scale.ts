import { isMap } from 'yaml'
import type { ChannelScale, ChannelSource } from '#analysis/model/system.ts'
import {
  type Expected,
  type JsonSchema,
  later,
  mapping,
  must,
  nested,
  type Opened,
  positive,
  quantityOf,
  text,
  textSchema,
} from './description.ts'
import type { MapView } from './file-view.ts'

export const source = mapping({
  measurement: text('measurement of the points'),
  field: must(text('field of the points')),
  tags: {
    schema: { type: 'object', additionalProperties: textSchema('a tag that must match') },
    read: readTags,
  },
})

export const pair: JsonSchema = { type: 'array', minItems: 2, maxItems: 2, items: textSchema('a quantity') }
const scalePoints: JsonSchema = {
  ...{ type: 'array', minItems: 2, maxItems: 2, description: 'two points [sent, meaning]' },
  items: pair,
}

const ntc = mapping({
  'at-25C': must(positive('such as 10 kohm', 'resistance')),
  beta: must(positive('such as 3950 K', 'temperature-difference')),
})

export const scale = mapping({
  linear: later(scalePoints),
  ratiometric: later(scalePoints),
  rail: nested(source),
  ntc: nested(ntc),
  pt: positive('resistance at 0 °C, such as 1000 ohm', 'resistance'),
})

/** Source of numbers; omitted parts come from `base` (a rail beside its channel). */
export function readSource(
  { view, value }: Opened<typeof source>,
  base: ChannelSource | null,
): ChannelSource | null {
  const measurement = value.measurement ?? base?.measurement ?? null
  if (measurement === null && view.node('measurement') === null) view.missing('measurement')
  const tags = value.tags ?? base?.tags ?? {}
  return measurement === null || value.field === null ? null : { measurement, field: value.field, tags }
}

function readTags(view: MapView, key: string): Record<string, string> | null {
  const { file } = view
  const node = view.node(key)
  if (node === null) return null
  if (!isMap(node)) {
    view.error(key, 'expected a mapping like { port: a }')
    return {}
  }
  const tags: [string, string][] = []
  for (const pair of node.items) {
    const name = file.resolve(pair.key)
    const value = file.resolve(pair.value)
    const nameText = name && file.textOf(name)
    const valueText = value && file.textOf(value)
    if (!nameText || !valueText)
      file.error(name ?? node, `${view.below(key)}: a tag needs a name and a value`)
    else tags.push([nameText, valueText])
  }
  // fromEntries defines plain members even for a tag called __proto__.
  return Object.fromEntries(tags)
}

/** A number as the logger sends it, and its unit. */
interface Raw {
  readonly raw: number
  readonly unit: string
}

/** A scale and its raw unit: the unit that the logger sends; null without a scale. */
interface ReadScale {
  readonly scale: ChannelScale | null
  readonly rawUnit: string | null
}

export const unscaled: ReadScale = { scale: null, rawUnit: null }

/**
 * How raw numbers become a reading:
 *
 *     scale: { linear: [[4 mA, 0 psi], [20 mA, 30 psi]] }
 *     scale: { ratiometric: [[10 %, 0 psi], [90 %, 30 psi]], rail: { field: vcc } }
 *     scale: { ntc: { at-25C: 10 kohm, beta: 3950 K } }
 *     scale: { pt: 1000 ohm }                          # at 0 °C
 */
export function readScale(
  { view, value }: Opened<typeof scale>,
  channel: MapView,
  expected: Expected,
  from: ChannelSource | null,
): ReadScale {
  const kinds = (['linear', 'ratiometric', 'ntc', 'pt'] as const).filter((kind) => view.node(kind) !== null)
  const [kind, ...others] = kinds
  if (kind === undefined || others.length > 0) {
    channel.error('scale', 'give exactly one of linear, ratiometric, ntc, pt')
    return unscaled
  }
  if (kind !== 'ratiometric' && view.node('rail') !== null)
    view.error('rail', 'belongs to a ratiometric scale')
  if (kind === 'linear') return readLinear(view, expected)
  if (kind === 'ratiometric') {
    if (view.node('rail') === null) view.missing('rail')
    const rail = value.rail && readSource(value.rail, from)
    return { scale: readRatiometric(view, expected, rail), rawUnit: 'V' }
  }
  if (expected.dimension !== 'temperature')
    view.error(kind, 'converts ohms to a temperature; this channel measures none')
  if (kind === 'pt') return { scale: value.pt === null ? null : { kind, ohmsAt0C: value.pt }, rawUnit: 'ohm' }
  const { 'at-25C': ohmsAt25C = null, beta: betaK = null } = value.ntc?.value ?? {}
  const known = ohmsAt25C !== null && betaK !== null
  return { scale: known ? { kind, ohmsAt25C, betaK } : null, rawUnit: 'ohm' }
}

function readLinear(view: MapView, expected: Expected): ReadScale {
  const points = readScalePoints(view, 'linear', rawNumber, expected)
  if (points === null) return unscaled
  const [a, b] = points
  if (a.unit !== b.unit)
    view.error('linear', `mixes "${a.unit}" and "${b.unit}"; the logger sends one of them`)
  const slopeSi = (b.si - a.si) / (b.raw - a.raw)
  return { scale: { kind: 'linear', slopeSi, offsetSi: a.si - slopeSi * a.raw }, rawUnit: a.unit }
}

function readRatiometric(view: MapView, expected: Expected, rail: ChannelSource | null): ChannelScale | null {
  const points = readScalePoints(view, 'ratiometric', ratio, expected)
  if (points === null || rail === null) return null
  const [low, high] = points[0].raw < points[1].raw ? points : [points[1], points[0]]
  return { kind: 'ratiometric', rail, lowRatio: low.raw, highRatio: high.raw, lowSi: low.si, highSi: high.si }
}

/** Exactly two `[raw, meaning]` pairs with different raw numbers and different meanings. */
function readScalePoints(
  view: MapView,
  key: 'linear' | 'ratiometric',
  readRaw: (written: string) => Raw | null,
  expected: Expected,
) {
  const { file } = view
  const what = `${view.what}: ${key}`
  const example = key === 'linear' ? '[[4 mA, 0 psi], [20 mA, 30 psi]]' : '[[10 %, 0 psi], [90 %, 30 psi]]'
  const items = file.items(view.node(key), what)
  const points = items.map((item) => {
    const [rawNode, meaningNode, more] = file.items(item, what)
    if (!rawNode || !meaningNode || more) {
      file.error(item, `${what}: each point is a pair [sent, meaning], like ${example}`)
      return null
    }
    const written = file.textOf(rawNode) ?? ''
    const raw = readRaw(written)
    if (raw === null) file.error(rawNode, `${what}: "${written}" is not understood, write ${example}`)
    const complain = (wrong: string) => file.error(meaningNode, `${what}: ${wrong}`)
    const meaning = quantityOf(file.textOf(meaningNode) ?? '', expected, complain)
    return raw && meaning ? { ...raw, si: meaning.value } : null
  })
  if (items.length !== 2) {
    view.error(key, `needs two points, like ${example}`)
    return null
  }
  const [a, b] = points
  if (!a || !b) return null
  if (a.raw !== b.raw && a.si !== b.si) return [a, b] as const
  view.error(key, 'the two points must differ on both sides')
  return null
}

/** A raw unit is only a name, without conversion. */
function rawNumber(written: string): Raw | null {
  const match = /^([+-]?(?:\d+\.?\d*|\.\d+)(?:[eE][+-]?\d+)?)\s*(.*)$/.exec(written)
  return match && { raw: Number(match[1]), unit: match[2] || 'counts' }
}

/** Share of the rail: `10 %` or `0.1`. */
function ratio(written: string): Raw | null {
  const read = rawNumber(written)
  if (read === null || (read.unit !== '%' && read.unit !== 'counts')) return null
  return { raw: read.unit === '%' ? read.raw / 100 : read.raw, unit: 'V' }
}
