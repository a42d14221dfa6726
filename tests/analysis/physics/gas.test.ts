import { describe, expect, it } from 'vitest'
import { straightLine } from '#analysis/numeric/straight-line.ts'
import { studentTQuantile } from '#analysis/numeric/student-t.ts'
import { gasConstant, gasViscosityPaS } from '#analysis/physics/ideal-gas.ts'
import {
  criticalPressureRatio,
  equivalentHoleM,
  laminarLiquidM3PerS,
  laminarScale,
  orificeLiquidM3PerS,
  orificeMolPerS,
} from '#analysis/physics/leak-flow.ts'
import { molPerSOfStandard, molPerSPerScc, sccReferenceText } from '#analysis/physics/standard-flow.ts'
import { fromUnit, toUnit } from '#analysis/physics/units.ts'

const atmosphere = 101325
const psig = (gauge: number) => atmosphere + fromUnit(gauge, 'psi')

/** n = pV/(RT). */
const amountMol = (pa: number, m3: number, kelvin: number) => (pa * m3) / (gasConstant * kelvin)

describe('ideal gas', () => {
  it('leak check of 40 CFR 1065.644 (2.000 L, 25.3 → 50.6 kPa, 293.15 K, 70 s) is 2.965705e-4 mol/s (inputs read)', () => {
    const gained = amountMol(50_600, 2e-3, 293.15) - amountMol(25_300, 2e-3, 293.15)
    // the regulation's R is 8.314472
    expect((gained / 70) * (8.31446261815324 / 8.314472)).toBeCloseTo(2.965705e-4, 10)
  })
  it('0.1 K over 100 L and 30 min at 3.5 psig counts as 1.31 scc/min (computed)', () => {
    const mol = amountMol(psig(3.5), 0.1, 293.15) * (0.1 / 293.15)
    expect(mol / 1800 / molPerSPerScc(273.15)).toBeCloseTo(1.31, 2)
  })
  it('air under constant volume, 14 points: a 0.236 ± 0.005, b 66.24 ± 0.27, zero at −281 ± 7 °C (published lab set)', () => {
    const celsius = Float64Array.from({ length: 14 }, (_, i) => 32 + 3 * i)
    const cmHg = Float64Array.of(73.3, 74.5, 75.1, 76, 76.8, 77.6, 78.2, 79, 79.6, 80.2, 81, 81.5, 82.1, 82.7)
    const { slope: a, meanX, meanY, stdSlope, stdResidual } = straightLine(celsius, cmHg)
    const b = meanY - a * meanX
    const stdMeanY = stdResidual / Math.sqrt(14)
    expect(a).toBeCloseTo(0.236, 3)
    expect(stdSlope).toBeCloseTo(0.005, 3)
    expect(b).toBeCloseTo(66.24, 2)
    expect(Math.hypot(stdMeanY, stdSlope * meanX)).toBeCloseTo(0.27, 2)
    expect(Math.round(-b / a)).toBe(-281)
    // b/a = mean(y)/a − mean(x), whose two parts are independent.
    expect(Math.round(Math.hypot(stdMeanY / a, (meanY * stdSlope) / a ** 2))).toBe(7)
  })
  it('seven-point mass-point set: −1.4912796768e-2 mol/h, 5.57092 scc/min, one-sided 95 % limit 5.63303 (computed)', () => {
    const hours = Float64Array.from({ length: 7 }, (_, i) => (5 * i) / 60)
    const kPa = [125.46, 125.42, 125.402, 125.371, 125.338, 125.321, 125.286]
    const kelvin = [293.15, 293.13, 293.16, 293.16, 293.15, 293.18, 293.17]
    const moles = Float64Array.from(kPa, (p, i) => amountMol(1000 * p, 0.1, kelvin[i]))
    const { slope, stdSlope } = straightLine(hours, moles)
    expect(slope).toBeCloseTo(-1.4912796768e-2, 11)
    const scc = 3600 * molPerSPerScc(273.15)
    expect(-slope / scc).toBeCloseTo(5.57092, 5)
    const limit = -slope + studentTQuantile(0.95, 5) * stdSlope
    expect(limit / scc).toBeCloseTo(5.63303, 5)
  })
  it('gasViscosityPaS of air at 20 °C is 1.81e-5 and of nitrogen 1.76e-5 within 1 % (common tables)', () => {
    expect(gasViscosityPaS('air', 293.15) / 1.81e-5).toBeCloseTo(1, 2)
    expect(gasViscosityPaS('nitrogen', 293.15) / 1.76e-5).toBeCloseTo(1, 2)
  })
})

describe('standard flow', () => {
  it('molPerSPerScc is 7.4358389e-7 at 0 °C and 6.9285328e-7 at 20 °C (computed)', () => {
    expect(molPerSPerScc(273.15)).toBeCloseTo(7.4358389e-7, 14)
    expect(molPerSPerScc(293.15)).toBeCloseTo(6.9285328e-7, 14)
  })
  it('1 µmol/s is 1.3448 scc/min at 0 °C (NIST)', () => {
    expect(1e-6 / molPerSPerScc(273.15)).toBeCloseTo(1.3448, 4)
  })
  it('molPerSOfStandard of one scc/min as parsed is the same flow', () => {
    expect(molPerSOfStandard(fromUnit(1, 'scc/min'), 293.15)).toBeCloseTo(molPerSPerScc(293.15), 20)
  })
  it('sccReferenceText names the reference', () => {
    expect(sccReferenceText(273.15)).toBe('0 degC, 101.325 kPa')
    expect(sccReferenceText(294.26)).toBe('21.11 degC, 101.325 kPa')
  })
})

describe('leak flow', () => {
  it('a hole chokes below a ratio of 0.52828, above 13.12 psig against one atmosphere (computed)', () => {
    expect(criticalPressureRatio).toBeCloseTo(0.52828, 5)
    expect(toUnit(atmosphere / criticalPressureRatio - atmosphere, 'psi')).toBeCloseTo(13.12, 2)
  })
  it('orificeMolPerS of 0.1 mm, Cd 0.6, 3.5 psig air is 52.30 scc/min; the same hole passes 2.313 mL/min avgas (computed)', () => {
    const flow = orificeMolPerS('air', 1e-4, psig(3.5), atmosphere, 293.15, 0.6)
    expect(flow / molPerSPerScc(273.15)).toBeCloseTo(52.3, 2)
    expect(toUnit(orificeLiquidM3PerS(1e-4, fromUnit(3.5, 'psi'), 721, 0.6), 'mL/min')).toBeCloseTo(2.313, 3)
  })
  it('orificeMolPerS beyond choking grows with the upstream pressure alone', () => {
    const flow = (inside: number, outside: number) =>
      orificeMolPerS('air', 1e-4, inside, outside, 293.15, 0.6)
    expect(flow(300_000, 100_000)).toBe(flow(300_000, 50_000))
    expect(flow(600_000, 100_000)).toBeCloseTo(2 * flow(300_000, 100_000), 15)
    expect(flow(100_000, 100_000)).toBe(0)
  })
  it('equivalentHoleM undoes orificeMolPerS', () => {
    const leak = orificeMolPerS('nitrogen', 3.7e-5, psig(10), atmosphere, 290, 0.6)
    expect(equivalentHoleM('nitrogen', leak, psig(10), atmosphere, 290, 0.6)).toBeCloseTo(3.7e-5, 15)
    expect(equivalentHoleM('air', 0, psig(10), atmosphere, 290, 0.6)).toBe(0)
    expect(() => equivalentHoleM('air', 1e-7, atmosphere, atmosphere, 290, 0.6)).toThrow(RangeError)
  })
  it('laminarLiquidM3PerS: 1 scc/min air at 3.5 psig is about 2.095 mL/h avgas at 0.5 mPa·s (computed, air at 1.82e-5)', () => {
    const liquid = laminarLiquidM3PerS(molPerSPerScc(273.15), psig(3.5), atmosphere, 293.15, 1.82e-5, 0.5e-3)
    expect(toUnit(liquid, 'mL/h') / 2.095).toBeCloseTo(1, 3)
  })
  it('laminarScale from 3.5 to 10 psig is (p² − p_b²) over the same, and 0 outside', () => {
    expect(laminarScale(psig(3.5), psig(3.5), atmosphere)).toBe(1)
    expect(laminarScale(psig(3.5), psig(10), atmosphere)).toBeCloseTo(
      (psig(10) ** 2 - atmosphere ** 2) / (psig(3.5) ** 2 - atmosphere ** 2),
      14,
    )
    expect(laminarScale(psig(3.5), atmosphere, atmosphere)).toBe(0)
    expect(() => laminarScale(atmosphere, psig(1), atmosphere)).toThrow(RangeError)
  })
  it('orificeLiquidM3PerS without a pressure difference is 0', () =>
    expect(orificeLiquidM3PerS(1e-4, -5, 721, 0.6)).toBe(0))
})
