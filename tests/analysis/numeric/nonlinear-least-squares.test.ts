import { describe, expect, it } from 'vitest'
import { nonlinearLeastSquares } from '#analysis/numeric/nonlinear-least-squares.ts'
import { significantDigits } from './significant-digits.ts'
import { boxBod, danWood, mgh17, misra1a, type NonlinearSet } from './strd/nonlinear-sets.ts'

function fitSet(set: NonlinearSet, start: readonly number[], maxIterations?: number) {
  return nonlinearLeastSquares({
    rows: set.y.length,
    start,
    maxIterations,
    residuals(b, out) {
      for (let i = 0; i < set.y.length; i++) out[i] = set.model(set.x[i], b) - set.y[i]
    },
  })
}

describe('nonlinearLeastSquares: NIST StRD certified values', () => {
  const cases: readonly [name: string, set: NonlinearSet, start: number][] = [
    ['Misra1a', misra1a, 0],
    ['Misra1a', misra1a, 1],
    ['BoxBOD', boxBod, 0],
    ['BoxBOD', boxBod, 1],
    ['DanWood', danWood, 0],
    ['DanWood', danWood, 1],
    ['MGH17', mgh17, 1],
    // start 1 is a trap: 580 iterations along a curved valley
    ['MGH17', mgh17, 0],
  ]
  for (const [name, set, start] of cases) {
    it(`nonlinearLeastSquares on ${name} from start ${start + 1} converges to the certified parameters`, () => {
      const fit = fitSet(set, set.starts[start], 1000)
      expect(fit.converged).toBe(true)
      for (let j = 0; j < set.parameters.length; j++) {
        expect(significantDigits(fit.parameters[j], set.parameters[j])).toBeGreaterThan(6)
        expect(significantDigits(fit.stdParameters![j], set.std[j])).toBeGreaterThan(4)
      }
      expect(significantDigits(fit.residualSumOfSquares, set.residualSumOfSquares)).toBeGreaterThan(9)
    })
  }

  it('nonlinearLeastSquares on BoxBOD where the exponential has died out does not claim to have converged', () => {
    // every parameter set with b2 above 40 fits alike: the gradient is zero there and proves nothing
    expect(fitSet(boxBod, [172.5, 60]).converged).toBe(false)
  })
})

describe('nonlinearLeastSquares: laws', () => {
  it('running out of iterations is not convergence', () => {
    expect(fitSet(boxBod, boxBod.starts[0], 3).converged).toBe(false)
  })
  it('the same problem gives the same bits twice', () => {
    expect(fitSet(mgh17, mgh17.starts[1]).parameters).toEqual(fitSet(mgh17, mgh17.starts[1]).parameters)
  })
  it('an exact Jacobian gives the same answer as differences', () => {
    const exact = nonlinearLeastSquares({
      rows: misra1a.y.length,
      start: misra1a.starts[0],
      residuals(b, out) {
        for (let i = 0; i < misra1a.y.length; i++) out[i] = misra1a.model(misra1a.x[i], b) - misra1a.y[i]
      },
      jacobian(b, columns) {
        for (let i = 0; i < misra1a.y.length; i++) {
          const decay = Math.exp(-b[1] * misra1a.x[i])
          columns[0][i] = 1 - decay
          columns[1][i] = b[0] * misra1a.x[i] * decay
        }
      },
    })
    expect(exact.converged).toBe(true)
    expect(significantDigits(exact.parameters[1], misra1a.parameters[1])).toBeGreaterThan(9)
  })
  it('a problem that is solved exactly converges to zero residuals', () => {
    const fit = nonlinearLeastSquares({
      rows: 2,
      start: [-1.2, 1],
      residuals(b, out) {
        out[0] = 10 * (b[1] - b[0] * b[0])
        out[1] = 1 - b[0]
      },
    })
    expect(fit.converged).toBe(true)
    expect(fit.parameters[0]).toBeCloseTo(1, 7)
    expect(fit.parameters[1]).toBeCloseTo(1, 7)
  })
})

describe('nonlinearLeastSquares: refuses', () => {
  it('parameters that cannot be told apart have no covariance', () => {
    const fit = nonlinearLeastSquares({
      rows: 3,
      start: [1, 1],
      residuals(b, out) {
        for (let i = 0; i < 3; i++) out[i] = (b[0] + b[1]) * i - 4 * i - 0.1
      },
    })
    expect(fit.covariance).toBeNull()
  })
  it('a start where the model is not a number does not converge', () => {
    const fit = nonlinearLeastSquares({
      rows: 2,
      start: [-1],
      residuals: (b, out) => out.fill(Math.log(b[0])),
    })
    expect(fit.converged).toBe(false)
  })
  it('fewer residuals than parameters is a RangeError', () => {
    expect(() => nonlinearLeastSquares({ rows: 1, start: [1, 2], residuals: () => {} })).toThrow(RangeError)
  })
})
