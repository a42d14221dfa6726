import { describe, expect, it } from 'vitest'
import type { Mark } from '#analysis/model/samples.ts'
import { GrowingRecording, readingsAtMost } from '#dashboard/server/session/columns.ts'
import { systemFromFile } from '#ingest/system-file/read-system-file.ts'

const system = systemFromFile(
  `stillhold: 1
name: one gauge
channels:
  - { id: p, measures: gauge-pressure, section: line, from: { measurement: logger, field: p }, unit: Pa, range: 0 Pa to 2000 Pa }
sections:
  - { id: line, medium: air, volume: 0.35 L, max-pressure: 15 psi }
`,
  'one gauge',
)

/** Readings `from` to `to`, one a second, each as many pascals as its second, given in uneven parts. */
function grown(to: number, part = 1000): GrowingRecording {
  const recording = new GrowingRecording(system, 'hold.lp', '0')
  for (let from = 0; from < to; from += part) {
    const timeS = Float64Array.from({ length: Math.min(part, to - from) }, (_, index) => from + index)
    recording.append({ p: { timeS, reading: timeS.map((each) => each % 1000) } })
  }
  return recording
}

const columns = (recording: GrowingRecording, marks: readonly Mark[] = []) =>
  recording.recording(marks).channels[0]

describe('GrowingRecording', () => {
  it('gives every reading as it came while they are few', () => {
    const { timeS, reading } = columns(grown(5000, 77))
    expect(timeS).toEqual(Float64Array.from({ length: 5000 }, (_, index) => index))
    expect(reading[4321]).toBe(321)
  })

  it('averages beyond its bound, each mean of as many readings as any other: one noise over all of the hold', () => {
    const { timeS, reading } = columns(grown(3 * readingsAtMost + 12_345, 777))
    expect(timeS.length).toBeGreaterThan(readingsAtMost / 2)
    expect(timeS.length).toBeLessThan(readingsAtMost)
    // Means of four: the middle of 0, 1, 2, 3 is 1.5, and each next one is four later.
    for (const [index, each] of timeS.entries()) {
      if (each !== 1.5 + 4 * index) throw new Error(`mean ${index} is at ${each} s`)
    }
    expect(reading[100]).toBe((400 + 401 + 402 + 403) / 4)
    expect(timeS.at(-1)).toBeGreaterThan(3 * readingsAtMost + 12_345 - 8)
  })

  it('applies a capture of zero to what it gives and not to what it keeps', () => {
    const recording = grown(100)
    const mark: Mark = {
      timeNs: '0',
      timeS: 50,
      kind: 'zero',
      id: 'p',
      hold: null,
      fields: { reading: 50, true: 0 },
    }
    expect(columns(recording, [mark]).reading.slice(48, 52)).toEqual(Float64Array.of(48, 49, 0, 1))
    expect(columns(recording).reading.slice(48, 52)).toEqual(Float64Array.of(48, 49, 50, 51))
  })
})
