import { describe, expect, test } from 'vitest'
import type { Mark } from '#analysis/model/samples.ts'
import { LiveChannels } from '#dashboard/server/session/live-channels.ts'
import { applyZeroMarks } from '#ingest/recording/apply-zero-marks.ts'
import { readSystemFile, systemFromFile } from '#ingest/system-file/read-system-file.ts'

const { system } = readSystemFile(
  `stillhold: 1
name: bench
channels:
  - id: p
    measures: gauge-pressure
    section: line
    from: { measurement: m, field: p }
    unit: Pa
    range: 0 kPa to 100 kPa
sections:
  - { id: line, medium: air, volume: 0.35 L, max-pressure: 20 kPa }
`,
  'bench.yaml',
)
const mark = (kind: Mark['kind'], timeS: number, fields: Mark['fields'], id: string | null = null): Mark => ({
  timeNs: String(timeS * 1e9),
  timeS,
  kind,
  id,
  hold: null,
  fields,
})
const zero = (timeS: number, reading: number) => mark('zero', timeS, { reading, true: 0 }, 'p')
const filled = (marks: readonly Mark[], reading: (t: number) => number): LiveChannels => {
  const live = new LiveChannels(system!)
  let next = 0
  for (let t = 0; t <= 100; t++) {
    for (; next < marks.length && marks[next].timeS <= t; next++) live.marked(marks[next])
    live.sample('p', t, reading(t))
  }
  return live
}

describe('LiveChannels with captures of zero', () => {
  test('minMax() shows what applyZeroMarks() makes of the same readings when a recording is read', () => {
    const marks = [zero(20, 120), zero(60, 200)]
    const reading = (t: number): number => 100 + t + (t % 7)
    const [shown] = filled(marks, reading).minMax(0, 1000)
    const timeS = Float64Array.from({ length: 101 }, (_, t) => t)
    const values = timeS.map(reading)
    applyZeroMarks(system!.channels[0], { timeS, values }, marks)
    expect(shown.low).toEqual([...values])
  })

  test('newest() shows the zero applied, and lately the reading without it, which the next capture takes', () => {
    const { p } = filled([zero(20, 120)], () => 130).newest()
    expect(p.reading).toBe(10)
    expect(p.lately).toEqual({ asRead: 130, low: 130, high: 130 })
  })

  test('takeBatch() hands out the zero applied from the capture on, not before', () => {
    const live = new LiveChannels(system!)
    live.sample('p', 1, 120)
    live.marked(zero(2, 120))
    live.sample('p', 3, 125)
    expect(live.takeBatch()!.channels['p']).toEqual({ timeS: [1, 3], reading: [120, 5] })
  })

  test('takeBatch() hands over slow channels whole and fast ones as the extremes of ten slices, once', () => {
    const live = new LiveChannels(system!)
    for (let index = 0; index < 3; index++) live.sample('p', index, 1000 + index)
    expect(live.takeBatch()!.channels['p'].reading).toEqual([1000, 1001, 1002])
    for (let index = 0; index < 100; index++) live.sample('p', 3 + index / 1000, index === 37 ? 50 : 0)
    const { reading } = live.takeBatch()!.channels['p']
    expect(reading.length).toBeLessThanOrEqual(20)
    expect(reading.filter((each) => each === 50)).toHaveLength(1)
    expect(live.takeBatch()).toBeNull()
  })

  test('takeCollected() gives the analysis every reading once, from where collectFrom() ended', () => {
    const live = filled([], (t) => t)
    expect(live.takeCollected()).toBeNull()
    expect(live.collectFrom(99)['p'].reading).toEqual(Float64Array.of(99, 100))
    for (let t = 101; t < 140; t++) live.sample('p', t, t)
    expect(live.takeCollected()!['p'].timeS).toEqual(Float64Array.from({ length: 39 }, (_, i) => 101 + i))
    expect(live.takeCollected()).toBeNull()
    live.stopCollecting()
    live.sample('p', 140, 140)
    expect(live.takeCollected()).toBeNull()
  })

  test('standing() and gaugeSince() have the zero applied: the line to pump up to is the true one', () => {
    const live = filled([zero(20, 120)], () => 5120)
    expect(live.standing(['line']).map(({ gaugePa }) => gaugePa)).toEqual([5000])
    expect(live.gaugeSince('line', 98)!.gaugePa).toEqual(Float64Array.of(5000, 5000, 5000))
  })

  test('collectFrom() hands the analysis readings as read: it applies the captures itself', () => {
    const live = filled([zero(20, 120)], () => 130)
    expect(live.collectFrom(99)['p'].reading).toEqual(Float64Array.of(130, 130))
  })

  test('a capture within a hold is not applied, as in the analysis', () => {
    const stages = [mark('stage', 10, { name: 'pump-up' }), zero(20, 120)]
    expect(filled(stages, () => 130).newest()['p'].reading).toBe(130)
  })

  test('alarms() are not talked down by a zero taken under pressure: 20.4 kPa read is over the limit of 20 kPa', () => {
    const codes = filled([zero(20, 4000)], () => 20_400)
      .alarms()
      .map((one) => one.code)
    expect(codes).toEqual(['over-pressure'])
    // Nor are they silent of a gauge that reads 4 kPa too little.
    expect(filled([zero(20, -4000)], () => 17_000).alarms()).toHaveLength(1)
  })

  test('standing() has the calibration of the gauge, and the second of two gauges while the first is silent', () => {
    const text = (more: string) => `stillhold: 1
name: bench
channels:
  - { id: p, measures: gauge-pressure, section: line, from: { measurement: m, field: p }, unit: kPa${more} }
  - { id: q, measures: gauge-pressure, section: line, from: { measurement: m, field: q }, unit: kPa }
sections:
  - { id: line, medium: air, volume: 0.35 L, max-pressure: 20 kPa }
`
    const points = ', calibration: { date: 2026-03-02, points: [[0 kPa, 0 kPa], [10 kPa, 11 kPa]] }'
    const live = new LiveChannels(systemFromFile(text(points), 'bench.yaml'))
    live.sample('q', 1, 8000)
    expect(live.standing(['line'])).toMatchObject([{ gaugePa: 8000 }])
    // Each point is a reference and what the gauge read at it: 11 kPa read are 10 kPa.
    live.sample('p', 1, 5000)
    expect(live.standing(['line'])).toMatchObject([{ gaugePa: expect.closeTo(50_000 / 11, 6) }])
  })

  test('new LiveChannels(system, marks) goes on with captures made under the earlier text of the file', () => {
    const live = new LiveChannels(system!, [zero(20, 120)])
    live.sample('p', 30, 130)
    expect(live.newest()['p'].reading).toBe(10)
  })
})
