import { describe, expect, it } from 'vitest'
import { convectiveGas, type GasWay } from '#analysis/fit/convective-gas.ts'
import type { GasRows } from '#analysis/fit/gas-columns.ts'

const n = 200
const kelvin = 300
const widthS = 3
const rows = {
  fromS: Float64Array.from({ length: n }, (_, i) => i * widthS),
  toS: Float64Array.from({ length: n }, (_, i) => (i + 1) * widthS),
  logTemperature: new Float64Array(n),
  temperatureK: kelvin,
} as Partial<GasRows> as GasRows
const middleS = rows.fromS.map((from) => from + widthS / 2)
/** A leak that would cool the gas by 1 in the logarithm over all rows. */
const cold = rows.fromS.map((from) => -from / (n * widthS))

function gone(tauS: number, ways: readonly GasWay[], wall = rows.logTemperature): Float64Array[] {
  const columns = ways.map(() => new Float64Array(n))
  convectiveGas({ ...rows, logTemperature: wall }, tauS, cold, ways, columns)
  return columns
}

describe('convectiveGas', () => {
  it('falls as the 5/4 power of the difference tells: D^−¼ grows by t/(4τ) (computed)', () => {
    for (const startK of [20, 2, -5]) {
      const tauS = 150
      const [way] = gone(tauS, [{ amplitude: startK / kelvin, drop: 0 }])
      for (let i = 0; i < n; i += 20) {
        const leftK = Math.sign(startK) * (Math.abs(startK) ** -0.25 + middleS[i] / (4 * tauS)) ** -4
        expect(way[i] * kelvin).toBeCloseTo(leftK, 2)
      }
    }
  })

  it('below 0.05 K decays with τ/0.05^¼, as conduction does', () => {
    const tauS = 100
    const [way] = gone(tauS, [{ amplitude: 0.04 / kelvin, drop: 0 }])
    for (let i = 0; i < n; i += 20)
      expect(way[i] * kelvin).toBeCloseTo(0.04 * Math.exp((-middleS[i] * 0.05 ** 0.25) / tauS), 12)
  })

  it('gives each way what it gives that way alone', () => {
    const wall = rows.fromS.map((from) => 1e-3 * Math.sin(from / 60))
    const ways = [
      { amplitude: 0.02, drop: 0 },
      { amplitude: -0.001, drop: 0.01 },
      { amplitude: 1e-5, drop: 0.02 },
    ]
    for (const tauS of [8, 300])
      expect(gone(tauS, ways, wall)).toEqual(ways.map((way) => gone(tauS, [way], wall)[0]))
  })
})
