import { describe, expect, it } from 'vitest'
import { calmWeather } from '../simulator/calm-weather.ts'
import { playLiquid } from './liquid-situations.ts'
import { type LiquidLine, LiquidWorld } from './liquid-world.ts'

const rigid: LiquidLine = {
  volumeM3: 0.5e-3,
  radiusM: 4e-3,
  airShare: 0,
  wallPerPa: 0,
  creepPerPa: 0,
  creepTauS: 100,
  solutionTauS: Number.POSITIVE_INFINITY,
  wallPerK: 0,
  fuelPerK: 1.26e-3,
  fuelPerK2: 0,
  fuelPerPa: 1.2e-9,
  heatJPerM3K: 1.5e6,
  stretches: [{ share: 1, wallTauS: 10, sun: 1 }],
}
const wait = (world: LiquidWorld, seconds: number) => {
  for (let t = 0; t < seconds; t += 0.2) world.step(0.2, 0)
}

describe('LiquidWorld: known values', () => {
  it('a rigid line gains 1.05 MPa/K: α/β (exact for small changes)', () => {
    const world = new LiquidWorld(rigid, { ...calmWeather, roomRampKPerS: 1e-4 })
    wait(world, 2000)
    const first = world.gaugePa
    wait(world, 1000)
    expect((world.gaugePa - first) / 0.1 / (1.26e-3 / 1.2e-9)).toBeCloseTo(1, 1)
  })
  it('a push of 0.1 mL raises half a litre by ΔV/Vβ, first more: compression warms it by αT/ρc for each pascal', () => {
    const world = new LiquidWorld(rigid, calmWeather)
    world.step(0.2, 1e-7)
    const isothermalPa = 1e-7 / rigid.volumeM3 / rigid.fuelPerPa
    expect(world.gaugePa / isothermalPa).toBeCloseTo(1, 2)
    world.step(0.2, 0)
    expect(world.gaugePa / isothermalPa).toBeGreaterThan(1.15)
    wait(world, 600)
    expect(world.gaugePa / isothermalPa).toBeCloseTo(1, 2)
  })
  it('one percent of air at the atmosphere yields 1/p: a hundred times what the fuel does', () => {
    const world = new LiquidWorld({ ...rigid, airShare: 0.01 }, calmWeather)
    expect(world.compliancePerPa / (0.01 / 101325 + 0.99 * 1.2e-9)).toBeCloseTo(1, 12)
  })
  it('the same seed gives the same readings', () => {
    const reading = () => playLiquid('swing', 3, 1).recording.channels[0].reading
    expect(reading()).toEqual(reading())
  })
})
