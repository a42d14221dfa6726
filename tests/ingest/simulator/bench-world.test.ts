import { describe, expect, test } from 'vitest'
import { BenchWorld } from '#ingest/simulator/bench-world.ts'
import type { VesselSpec } from '#ingest/simulator/vessel.ts'
import { calmWeather } from '#tests/simulator/calm-weather.ts'

const line: VesselSpec = {
  volumeM3: 0.0005,
  stretchPerPa: 0,
  creepPerPa: 0,
  creepTauS: 100,
  gasTauS: 10,
  convectionExponent: 0,
  wallTauS: 100,
  wallHeatJPerK: 200,
}

function twoLines(passing = 0, leak = 0): BenchWorld {
  return new BenchWorld({
    sections: [
      { id: 'a', vessel: line, sunShare: 0 },
      { id: 'b', vessel: { ...line, volumeM3: 0.001 }, sunShare: 0 },
    ],
    leaks: [{ fitting: 'F1', section: 'a', conductance: leak }],
    valves: [{ id: 'V', between: ['a', 'b'], open: false, passing }],
    weather: () => ({ roomK: 293.15, sunK: 0, atmospherePa: calmWeather.barometricPa }),
  })
}

describe('BenchWorld', () => {
  test('pumpUp brings a section to its pressure and keeps it; the other, behind a shut valve, is unchanged', () => {
    const world = twoLines()
    world.pumpUp('a', 50_000, 10)
    world.advance(120)
    expect(world.gaugePa('a')).toBeCloseTo(50_000, -1)
    expect(Math.abs(world.gaugePa('b'))).toBeLessThan(1e-6)
  })

  test('pumpUp to a vacuum evacuates, and a leak then admits air', () => {
    const world = twoLines(0, 1e-16)
    world.pumpUp('a', -20_000, 10)
    world.advance(60)
    world.stopPump('a')
    const drawnPa = world.gaugePa('a')
    expect(drawnPa).toBeLessThan(-19_900)
    const { mol } = world.section('a')
    world.advance(600)
    expect(world.section('a').mol).toBeGreaterThan(mol)
    expect(world.gaugePa('a')).toBeGreaterThan(drawnPa)
  })

  test('a passing valve moves gas from one section to the other and loses none', () => {
    const world = twoLines(5e-16)
    world.pumpUp('a', 50_000, 10)
    world.advance(100)
    world.stopPump('a')
    const amounts = () => [world.section('a').mol, world.section('b').mol] as const
    const [a, b] = amounts()
    world.advance(600)
    const [laterA, laterB] = amounts()
    expect(laterB - b).toBeGreaterThan(1e-4)
    expect((laterB - b) / (a - laterA)).toBeCloseTo(1, 9)
  })

  test('vent empties a section to the atmosphere, seepIn fills it', () => {
    const world = twoLines()
    world.pumpUp('a', 50_000, 10)
    world.advance(60)
    world.vent('a', 1.5)
    world.advance(180)
    expect(Math.abs(world.gaugePa('a'))).toBeLessThan(20)
    world.closeVent('a')
    world.seepIn('a', 1e-7)
    const { mol } = world.section('a')
    world.advance(1000)
    expect(world.section('a').mol - mol).toBeCloseTo(1e-4, 12)
  })

  test('an unknown section or valve is refused by name', () => {
    const world = twoLines()
    expect(() => world.pumpUp('c', 1, 1)).toThrow("no section 'c'")
    expect(() => world.setValve('W', { passing: 1 })).toThrow("no valve 'W'")
  })
})
