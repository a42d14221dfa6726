import { describe, expect, test } from 'vitest'
import { readRecording } from '#ingest/recording/read-recording.ts'
import { systemFromFile } from '#ingest/system-file/read-system-file.ts'
import type { Scenario } from '#tests/simulator/scenario.ts'
import { simulateHold } from '#tests/simulator/simulate-hold.ts'
import { leaksOverAllowance, type SectionKind, situations } from '#tests/simulator/situations.ts'

const kinds: readonly SectionKind[] = ['line', 'tank']
const psiPa = 6894.757293168361

function steady(seed: number, leak: number, kind: SectionKind): Scenario {
  const situation = situations.find(({ name }) => name === 'steady')
  if (situation === undefined) throw new Error('there is no steady situation')
  return situation.scenario(seed, leak, kind)
}

/** The same hold with perfect instruments and a constant room. */
function idealized(scenario: Scenario): Scenario {
  const { bench, weather } = scenario
  return {
    ...scenario,
    weather: { ...weather, roomRampKPerS: 0, swings: [], barometricRampPaPerS: 0, barometricSwingPa: 0 },
    procedure: { ...scenario.procedure, settleS: 9000 },
    bench: {
      ...bench,
      pressure: { ...bench.pressure, bits: 30, whitePa: 0, flickerPa: 0, offsetPa: 0, gain: 1 },
      jitterS: 0,
      lostShare: 0,
      sampleHz: 1,
    },
  }
}

describe('simulateHold', () => {
  test.each(situations.map(({ name }) => name))(
    '%s: every leak and kind of section gives a complete hold',
    (name) => {
      const situation = situations.find((candidate) => candidate.name === name)
      for (const kind of kinds) {
        for (const leak of leaksOverAllowance) {
          const hold = simulateHold(situation?.scenario(7, leak, kind) as Scenario, 7)
          const [pressure] = hold.recording.channels
          expect(pressure.timeS.length).toBeGreaterThan(500)
          expect(pressure.timeS.every((timeS, i) => i === 0 || timeS > pressure.timeS[i - 1])).toBe(true)
          expect(pressure.reading.every(Number.isFinite)).toBe(true)
          expect(hold.recording.marks.map(({ fields }) => fields.name)).toEqual([
            'pump-up',
            'settle',
            'hold',
            'vent',
            'end',
          ])
          expect(hold.truth.leakOverAllowance).toBe(leak)
          expect(hold.truth.dropPa > 0).toBe(leak > 0)
        }
      }
    },
  )

  test('the same scenario and seed give the same bytes, another seed gives others', () => {
    const scenario = steady(3, 1, 'line')
    const text = simulateHold(scenario, 3).recordingText()
    expect(simulateHold(scenario, 3).recordingText()).toBe(text)
    expect(simulateHold(scenario, 4).recordingText()).not.toBe(text)
  })

  test.each(kinds)('%s: truth.dropPa is what a perfect gauge loses in a constant room', (kind) => {
    for (const seed of [1, 2, 3]) {
      const scenario = idealized(steady(seed, 0.5, kind))
      const hold = simulateHold(scenario, seed)
      // The leak is scaled to the stated test pressure; the hold starts at the pressure after the long settle.
      const { reading, timeS } = hold.recording.channels[0]
      const from = timeS.findIndex((at) => at >= (hold.recording.marks[2]?.timeS ?? 0))
      const gauge = scenario.bench.pressure.kind === 'gauge'
      const atmospherePa = scenario.weather.barometricPa
      const absolutePa = reading[from] + (gauge ? atmospherePa : 0)
      const testPa = atmospherePa + scenario.procedure.pressurePsi * psiPa
      const flow = (absolutePa ** 2 - atmospherePa ** 2) / (testPa ** 2 - atmospherePa ** 2)
      const { stretchPerPa } = scenario.vessel
      const stiffness =
        (1 + stretchPerPa * (2 * testPa - atmospherePa)) /
        (1 + stretchPerPa * (2 * absolutePa - atmospherePa))
      // Within 4 %: the leak slows down while the pressure falls, and the gas cools a little as it leaves.
      expect(hold.truth.gaugeFallPa / (hold.truth.dropPa * flow * stiffness)).toBeGreaterThan(0.96)
      expect(hold.truth.gaugeFallPa / (hold.truth.dropPa * flow * stiffness)).toBeLessThan(1.01)
    }
  })

  test.each(kinds)('%s: systemText means the same as system, read by the system file reader', (kind) => {
    for (let seed = 1; seed <= 12; seed++) {
      for (const situation of situations) {
        const hold = simulateHold({ ...situation.scenario(seed, 1, kind), name: 'probe' }, seed)
        expectClose(systemFromFile(hold.systemText, 'probe.yaml'), hold.system, 'system')
        if (seed > 2) break
      }
    }
  })
})

test.each(kinds)('%s: recordingText means the same as recording, read by the recording reader', (kind) => {
  for (const situation of situations) {
    const hold = simulateHold({ ...situation.scenario(5, 1, kind), name: 'probe' }, 5)
    const { channels, marks, ...rest } = readRecording(hold.recordingText(), hold.system, hold.recording.name)
    expect(rest).toMatchObject({ startNs: hold.recording.startNs, rejectedLines: 0, missingSequence: 0 })
    expect(marks).toEqual(hold.recording.marks)
    expect(channels.map(({ channel }) => channel)).toEqual(
      hold.recording.channels.map(({ channel }) => channel),
    )
    for (const [c, { timeS, reading }] of channels.entries()) {
      const wanted = hold.recording.channels[c]
      expect(timeS).toEqual(wanted.timeS)
      expect(reading.length).toBe(wanted.reading.length)
      // A unit of the last place may differ where the reader divides and the simulator multiplies.
      const apart = reading.map((value, i) => Math.abs(value / wanted.reading[i] - 1))
      expect(Math.max(...apart.filter(Number.isFinite))).toBeLessThan(1e-12)
    }
  }
})

/** Equal except for the last digits of numbers. */
function expectClose(got: unknown, wanted: unknown, path: string): void {
  if (typeof wanted === 'number' && typeof got === 'number') {
    expect(Math.abs(got - wanted), path).toBeLessThanOrEqual(1e-12 * Math.abs(wanted))
  } else if (wanted !== null && typeof wanted === 'object' && got !== null && typeof got === 'object') {
    expect(Object.keys(got), path).toEqual(expect.arrayContaining(Object.keys(wanted)))
    for (const [key, value] of Object.entries(wanted)) {
      expectClose((got as Record<string, unknown>)[key], value, `${path}.${key}`)
    }
  } else expect(got, path).toEqual(wanted)
}
