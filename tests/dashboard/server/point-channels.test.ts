import { describe, expect, it } from 'vitest'
import { PointChannels, SeenFields } from '#dashboard/server/session/point-channels.ts'
import type { Field, Point } from '#ingest/line-protocol/point.ts'
import { systemFromFile } from '#ingest/system-file/read-system-file.ts'

const system = systemFromFile(
  `stillhold: 1
name: x
channels:
  - { id: p, measures: gauge-pressure, section: s, from: { measurement: m, field: p, tags: { port: a } }, unit: kPa }
  - { id: t, measures: temperature, section: s, from: { measurement: m, field: t }, unit: degC }
  - id: r
    measures: gauge-pressure
    section: r
    from: { measurement: m, field: r }
    scale: { ratiometric: [[10 %, 0 Pa], [90 %, 800 Pa]], rail: { measurement: m, field: v } }
  - { id: l, measures: gauge-pressure, section: r, from: { measurement: n, field: i }, scale: { linear: [[4 mA, 0 Pa], [20 mA, 160 Pa]] } }
  - { id: g, measures: gauge-pressure, places: [s, r], from: { measurement: typed, field: g }, unit: Pa }
sections:
  - { id: s, medium: air, volume: 1 L }
  - { id: r, medium: air, volume: 1 L }
`,
  'x.yaml',
)
const point = (
  fields: Readonly<Record<string, number | bigint | string | boolean>>,
  tags: Readonly<Record<string, string>> = { port: 'a' },
  measurement = 'm',
): Point => ({
  ...{ measurement, tags, timeNs: '1' },
  fields: Object.entries(fields).map(([key, value]) => ({ key, type: 'float', value }) as Field),
})
const read = (channels: PointChannels, given: Point, timeS = 0) => {
  const taken: [string, number][] = []
  channels.read(given, timeS, ({ id }, reading) => taken.push([id, Number(reading.toFixed(6))]))
  return taken
}

describe('PointChannels', () => {
  it('converts numbers to SI, of the measurement, field and tags that a channel names', () => {
    const channels = new PointChannels(system)
    expect(read(channels, point({ p: 2.5, t: 20 }))).toEqual([
      ['p', 2500],
      ['t', 293.15],
    ])
    expect(read(channels, point({ p: 3n }))).toEqual([['p', 3000]])
    expect(read(channels, point({ p: 'high', t: true, other: 1 }))).toEqual([])
    expect(read(channels, point({ p: 1, t: 20 }, { port: 'b' }))).toEqual([['t', 293.15]])
    expect(read(channels, point({ p: 1 }, {}))).toEqual([])
    expect(read(channels, point({ p: 1 }, { port: 'a' }, 'other'))).toEqual([])
    expect(read(channels, point({ p: Number.NaN }))).toEqual([])
    expect(read(channels, point({ i: 12 }, {}, 'n'))).toEqual([['l', 80]])
  })

  it('takes a ratiometric sensor as a share of its rail, in the same line or the last before it', () => {
    const channels = new PointChannels(system)
    expect(read(channels, point({ r: 2.5 }))).toEqual([])
    expect(read(channels, point({ r: 2.5, v: 5 }), 1)).toEqual([['r', 400]])
    expect(read(channels, point({ r: 4.5 }), 2)).toEqual([['r', 800]])
    expect(read(channels, point({ v: 10 }), 3)).toEqual([])
    expect(read(channels, point({ r: 5 }), 3)).toEqual([['r', 400]])
    // The rail of another measurement is another rail.
    read(channels, point({ v: 1 }, {}, 'n'), 4)
    expect(read(channels, point({ r: 5 }), 4)).toEqual([['r', 400]])
  })

  it('reads a gauge that is moved on the section where it was marked last, and nowhere before', () => {
    const channels = new PointChannels(system)
    const reading = point({ g: 9 }, {}, 'typed')
    expect(read(channels, reading)).toEqual([])
    const placed = (...marks: Parameters<typeof channels.place>[0]) => {
      channels.place(marks)
      return read(channels, reading).map(([id]) => id)
    }
    const at = (section: string, kind = 'place') => ({ kind, id: 'g', fields: { section } })
    expect(placed(at('s'))).toEqual(['g@s'])
    expect(placed(at('s'), at('r'))).toEqual(['g@r'])
    expect(placed(at('s'), at('r', 'note'), { ...at('r'), id: null }, { ...at('r'), id: 'other' })).toEqual([
      'g@s',
    ])
    expect(placed()).toEqual([])
    // It is one gauge, wherever it is.
    expect([channels.takerOf(reading, 'g'), channels.takerOf(reading, 'p')]).toEqual(['g', null])
    expect(channels.takerOf(point({}, { port: 'b' }), 'p')).toBeNull()
  })
})

describe('SeenFields', () => {
  it('lists each number that came with its newest value, time and channel, and no text', () => {
    const channels = new PointChannels(system)
    const seen = new SeenFields()
    seen.update(point({ p: 1, note: 'x', on: true }), 0)
    seen.update(point({ p: 2, n: 3n }), 5)
    seen.update(point({ p: 7 }, { port: 'b' }), 6)
    const of = (field: string, tags: object, raw: number, timeS: number, channel: string | null) => ({
      ...{ measurement: 'm', field, tags, raw, timeS, channel },
    })
    expect(seen.list((one, field) => channels.takerOf(one, field))).toEqual([
      of('p', { port: 'a' }, 2, 5, 'p'),
      of('n', { port: 'a' }, 3, 5, null),
      of('p', { port: 'b' }, 7, 6, null),
    ])
  })
})
