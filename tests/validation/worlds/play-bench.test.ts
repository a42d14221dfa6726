import { describe, expect, test } from 'vitest'
import { AirAround } from './air-around.ts'
import { GasSection, leakOfDrop } from './gas-section.ts'
import { playBench } from './play-bench.ts'

const calm = {
  startK: 293.15,
  rampKPerS: 0,
  swingK: 0,
  swingPeriodS: 600,
  draughtK: 0,
  sunK: 0,
  sunFromS: 1e9,
  barometricPa: 101_325,
  barometricPaPerS: 0,
  gustPa: 0,
}
const silence = {
  uniform: (low: number) => low,
  normal: () => 0,
  chance: () => false,
  pick: <T>(of: readonly T[]) => of[0],
}
const build = {
  volumeM3: 0.35e-3,
  stretchPerPa: 0,
  creep: [],
  gasTauS: 5,
  convectionExponent: 0.2,
  skinOverGas: 500,
  skinTauS: 300,
  skinStructureTauS: 600,
  structureTauS: 1500,
  vaporPa: 0,
  vaporTauS: 300,
  vaporStart: 0,
  laminarShare: 1,
  testPa: 68_948,
}

describe('GasSection: known values', () => {
  test('step(): gas pumped in quickly stands too high by 2/7 of the pressure added, less what the wall took (γ = 1.4)', () => {
    const air = new AirAround(calm, silence)
    const section = new GasSection({ ...build, gasTauS: 1e9, leakMolPerS: 0 }, air)
    const coldMol = (68_948 * build.volumeM3) / (8.314462618 * 293.15)
    for (let k = 0; k < 8000; k++) section.step(0.125, air, coldMol / 1000)
    // Adiabatic filling from room temperature raises the pressure by γ·R·T·n/V.
    expect((section.absolutePa - 101_325) / 68_948).toBeCloseTo(1.4, 2)
  })
  test('leakOfDrop(): the section falls by the drop it was asked for, at constant temperature (ideal gas)', () => {
    const air = new AirAround(calm, silence)
    const leakMolPerS = leakOfDrop(build, 690, 600, 293.15)
    const section = new GasSection({ ...build, gasTauS: 0.5, leakMolPerS }, air)
    section.moles *= 1 + 68_948 / 101_325
    for (let k = 0; k < 80; k++) section.step(0.125, air, 0)
    const before = section.absolutePa
    for (let k = 0; k < 8 * 60; k++) section.step(0.125, air, 0)
    expect((before - section.absolutePa) / 69).toBeCloseTo(1, 2)
  })
  test('playBench(): the same seed gives the same bytes', () => {
    const plan = { seed: 7, sort: 'line', fault: 'none', leak: 1 } as const
    expect(playBench(plan).recording).toBe(playBench(plan).recording)
  })
})
