import { describe, expect, it } from 'vitest'
import type { Posterior } from '#analysis/fit/posterior-modes.ts'
import { posteriorPoints } from '#analysis/fit/posterior-points.ts'

/** Mean and variance of what the points say. */
function momentsOf(points: readonly { weight: number; answer: number }[]) {
  const mean = points.reduce((sum, { weight, answer }) => sum + weight * answer, 0)
  return {
    mean,
    variance: points.reduce((sum, { weight, answer }) => sum + weight * (answer - mean) ** 2, 0),
  }
}

/** Readings y of (v₀ + v₁ + v₂, v₁ − v₂, 2·v₂) with a standard deviation of 0.5, v standard normal before. */
const readings = [1.2, -0.4, 0.9]
const linear: Posterior<number> = {
  dimensions: 3,
  innovations: 6,
  temperingPower: 1,
  at(v, innovations) {
    const means = [v[0] + v[1] + v[2], v[1] - v[2], 2 * v[2]]
    let logLikelihood = 0
    means.forEach((mean, i) => {
      const error = readings[i] - mean
      innovations?.set([error, 0.25], 2 * i)
      logLikelihood -= 0.5 * (Math.log(0.25) + error ** 2 / 0.25)
    })
    return { logLikelihood, answer: v[0] }
  },
}

/** One scale s = e^v of eight readings of mean square 4: far from normal. Moments of v by a grid of 1e-4 (computed). */
const squares = [0.5, 7, 3, 1, 9, 0.1, 6, 5.4]
const scale: Posterior<number> = {
  dimensions: 1,
  innovations: 16,
  temperingPower: 1,
  at([v], innovations) {
    const variance = Math.exp(2 * v)
    let logLikelihood = 0
    squares.forEach((square, i) => {
      innovations?.set([Math.sqrt(square), variance], 2 * i)
      logLikelihood -= 0.5 * (2 * v + square / variance)
    })
    return { logLikelihood, answer: v }
  },
}

function byGrid() {
  let [sum, first, second] = [0, 0, 0]
  for (let v = -6; v < 6; v += 1e-4) {
    const { logLikelihood } = scale.at(Float64Array.of(v), null)
    const density = Math.exp(logLikelihood - 0.5 * v * v)
    sum += density
    first += density * v
    second += density * v * v
  }
  return { mean: first / sum, variance: second / sum - (first / sum) ** 2 }
}

describe('posteriorPoints', () => {
  // Precision I + 4·HᵀH and pull 4·Hᵀy with H = [1 1 1; 0 1 −1; 0 0 2].
  const precision = [
    [5, 4, 4],
    [4, 9, 0],
    [4, 0, 25],
  ]
  const pulled = [4 * 1.2, 4 * (1.2 - 0.4), 4 * (1.2 + 0.4 + 1.8)]
  // First row of the inverse by cofactors: det = 5·225 − 4·100 − 4·36 = 581.
  const firstRow = [225 / 581, -100 / 581, -36 / 581]

  it.each([
    ['sampled', false, 0.03],
    ['by a design', true, 0.03],
  ] as const)('%s gives mean and variance of a normal posterior (closed form)', (_, quick, within) => {
    expect(precision[0].reduce((sum, p, k) => sum + p * firstRow[k], 0)).toBeCloseTo(1, 12)
    const { points } = posteriorPoints(linear, [[new Float64Array(3)]], quick)
    const { mean, variance } = momentsOf(points)
    const exact = firstRow.reduce((sum, share, k) => sum + share * pulled[k], 0)
    expect(Math.abs(mean - exact)).toBeLessThan(within * Math.sqrt(firstRow[0]) * 2)
    expect(variance / firstRow[0]).toBeGreaterThan(0.9)
    expect(variance / firstRow[0]).toBeLessThan(1.1)
  })

  it('gives mean and variance of a scale, begun three standard deviations off (grid)', () => {
    const exact = byGrid()
    const { points, effective } = posteriorPoints(scale, [[Float64Array.of(3)]], false)
    const { mean, variance } = momentsOf(points)
    expect(Math.abs(mean - exact.mean)).toBeLessThan(0.05 * Math.sqrt(exact.variance))
    expect(variance / exact.variance).toBeGreaterThan(0.93)
    expect(variance / exact.variance).toBeLessThan(1.07)
    expect(effective).toBeGreaterThan(100)
  })

  it('gives the same points every time', () => {
    const weights = () =>
      posteriorPoints(scale, [[Float64Array.of(1)]], false).points.map(({ weight }) => weight)
    expect(weights()).toEqual(weights())
  })
})
