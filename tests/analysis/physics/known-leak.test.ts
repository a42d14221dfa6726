import { expect, test } from 'vitest'
import { capillaryMolPerS, displacedMolPerS } from '#analysis/physics/leak-flow.ts'

const atm = 101_325
const psi = 6894.757293
const scc = 7.4358389e-7

test('capillaryMolPerS(50 µm, 20 cm) passes 0.22 scc/min at 10 psi, 150 µm × 5 cm 5.5 at 1 psi (computed from the formula)', () => {
  expect(capillaryMolPerS(50e-6, 0.2, atm + 10 * psi, atm, 293.15) / scc).toBeCloseTo(0.219, 2)
  expect(capillaryMolPerS(150e-6, 0.05, atm + psi, atm, 293.15) / scc).toBeCloseTo(5.46, 1)
})

test('capillaryMolPerS() goes with the fourth power of the bore and with p₁² − p₂²: 0.43 at half of 10 psi (computed)', () => {
  const at = (bore: number, gauge: number) => capillaryMolPerS(bore, 0.1, atm + gauge, atm, 293.15)
  expect(at(1e-4, psi) / at(5e-5, psi)).toBeCloseTo(16, 9)
  expect(at(5e-5, 5 * psi) / at(5e-5, 10 * psi)).toBeCloseTo(0.4365, 3)
})

test('displacedMolPerS(10 mL in 600 s at 20 °C): dry gas is 97.7 % of it, 0.910 scc/min (water vapor 2.34 kPa, handbook table)', () => {
  const { value, std } = displacedMolPerS({
    volumeM3: 10e-6,
    stdM3: 0.05e-6,
    seconds: 600,
    temperatureK: 293.15,
    atmospherePa: atm,
  })
  expect(value / scc).toBeCloseTo(0.91, 2)
  expect(std / value).toBeCloseTo(0.0058, 3)
})
