import { describe, expect, it } from 'vitest'
import type { Recording } from '#analysis/model/samples.ts'
import { barometerIsWrong, barometerOf, pressureSignal } from '#analysis/signal/pressure-signal.ts'
import { systemFromFile } from '#ingest/system-file/read-system-file.ts'

const system = systemFromFile(
  `stillhold: 1
name: absolute gauges beside a barometer
channels:
  - { id: left, measures: absolute-pressure, section: left, from: { measurement: logger, field: left }, unit: Pa }
  - { id: right, measures: gauge-pressure, section: right, from: { measurement: logger, field: right }, unit: Pa }
  - { id: baro, measures: barometric-pressure, from: { measurement: logger, field: baro }, unit: Pa }
sections:
  - { id: left, medium: air, volume: 0.35 L, max-pressure: 15 psi }
  - { id: right, medium: air, volume: 0.35 L, max-pressure: 15 psi }
`,
  'absolute gauges',
)

type Columns = readonly (readonly [timeS: number, reading: number])[]

function recorded(channels: Readonly<Record<string, Columns>>): Recording {
  return {
    name: 'made here',
    startNs: '0',
    channels: Object.entries(channels).map(([channel, rows]) => ({
      channel,
      timeS: Float64Array.from(rows, ([timeS]) => timeS),
      reading: Float64Array.from(rows, ([, reading]) => reading),
    })),
    marks: [],
    rejectedLines: 0,
    missingSequence: 0,
  }
}

const everySecond = (reading: (s: number) => number, count = 10): Columns =>
  Array.from({ length: count }, (_, s) => [s, reading(s)])
const of = (section: string) => ({ sections: [section] })
const steps: Columns = [
  [0, 100_000],
  [4, 100_400],
  [6.5, 99_000],
]

describe('pressureSignal(recording, system, hold)', () => {
  it('takes the atmosphere off an absolute gauge as the barometer read last before each sample', () => {
    const recording = recorded({ left: everySecond(() => 170_000), baro: steps })
    const signal = pressureSignal(recording, system, of('left'))!
    // 170 kPa less 100.0 up to 3 s, 100.4 from 4 to 6 s, 99.0 from 7 s on.
    const expected = [70_000, 70_000, 70_000, 70_000, 69_600, 69_600, 69_600, 71_000, 71_000, 71_000]
    expect([...signal.gaugePa]).toEqual(expected)
    expect(signal.meanGauge(3.5, 6.5)).toBe(69_600)
  })

  it('before the first reading of the barometer takes that one', () => {
    const late = steps.map(([timeS, reading]) => [timeS + 5, reading] as const)
    const recording = recorded({ left: everySecond(() => 170_000), baro: late })
    expect(pressureSignal(recording, system, of('left'))!.gaugePa[0]).toBe(70_000)
  })

  it('without a barometer, and with one that reads no atmosphere, takes the standard one, 101,325 Pa (ISO 2533)', () => {
    const absolute = everySecond(() => 170_000)
    for (const baro of [[], everySecond(() => 0), everySecond(() => 101.3)]) {
      const recording = recorded({ left: absolute, baro })
      expect(pressureSignal(recording, system, of('left'))!.gaugePa[3]).toBe(170_000 - 101_325)
      expect(barometerOf(recording, system)).toBeNull()
      expect(barometerIsWrong(recording, system)).toBe(baro.length > 0)
    }
  })

  it('leaves a gauge that reads against the atmosphere as it reads, whatever the barometer does', () => {
    const recording = recorded({ right: everySecond((s) => 70_000 - s), baro: steps })
    expect([...pressureSignal(recording, system, of('right'))!.gaugePa.slice(0, 3)]).toEqual([
      70_000, 69_999, 69_998,
    ])
  })

  it('is of the hold’s own section, and null where that has no samples', () => {
    const recording = recorded({ left: everySecond(() => 170_000), right: everySecond(() => 5) })
    expect(pressureSignal(recording, system, of('right'))!.channel.id).toBe('right')
    expect(pressureSignal(recorded({ left: everySecond(() => 170_000) }), system, of('right'))).toBeNull()
    expect(pressureSignal(recording, system, of('left'))!.meanGauge(20, 30)).toBeNull()
  })
})
