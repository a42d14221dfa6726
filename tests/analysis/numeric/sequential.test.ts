import { describe, expect, it } from 'vitest'
import { anytimeMultiplier, anytimeRatio } from '#analysis/numeric/anytime-interval.ts'
import { normalQuantile } from '#analysis/numeric/normal-distribution.ts'
import { studentTQuantile } from '#analysis/numeric/student-t.ts'

/** ln E of Lindon et al.: ½ ln r + (ν+1)/2 · [ln(1 + t²/ν) − ln(1 + r t²/ν)]. */
function logEvidence(t: number, nu: number, ratio: number): number {
  const square = (t * t) / nu
  return 0.5 * Math.log(ratio) + 0.5 * (nu + 1) * (Math.log1p(square) - Math.log1p(ratio * square))
}

describe('anytime-valid interval', () => {
  it('anytimeMultiplier(20, 1/11, 0.05) is 3.37067 (Lindon et al., computed)', () => {
    expect(anytimeMultiplier(20, 1 / 11, 0.05)).toBeCloseTo(3.37067, 5)
  })
  it('at the multiplier the evidence is exactly 1/α', () => {
    for (const nu of [5, 20, 300, 6000]) {
      for (const ratio of [1 / 9, 0.02, 0.4]) {
        const multiplier = anytimeMultiplier(nu, ratio, 0.05)
        if (multiplier === Number.POSITIVE_INFINITY) continue
        expect(logEvidence(multiplier, nu, ratio)).toBeCloseTo(Math.log(20), 10)
      }
    }
  })
  it('the multiplier is wider than the t quantile of a single look, never narrower', () => {
    for (const nu of [5, 20, 300]) {
      expect(anytimeMultiplier(nu, 1 / 9, 0.05)).toBeGreaterThan(studentTQuantile(0.975, nu))
    }
  })
  it('anytimeRatio is 1/9 at the planned end and 1 before anything is known', () => {
    expect(anytimeRatio(8, 8)).toBeCloseTo(1 / 9, 15)
    expect(anytimeRatio(0, 8)).toBe(1)
  })
  it('too little information bounds nothing', () => {
    expect(anytimeMultiplier(20, 1, 0.05)).toBe(Number.POSITIVE_INFINITY)
    expect(anytimeMultiplier(1, 0.5, 0.001)).toBe(Number.POSITIVE_INFINITY)
    expect(anytimeMultiplier(0, 0.1, 0.05)).toBe(Number.POSITIVE_INFINITY)
  })
  it('looking 200 times at noise of known spread errs in at most 5 % of seeded runs', () => {
    // a fixed linear congruential sequence stands for chance
    let state = 12345
    const uniform = () => {
      state = (Math.imul(state, 1664525) + 1013904223) >>> 0
      return (state + 0.5) / 2 ** 32
    }
    let wrong = 0
    const runs = 1000
    for (let run = 0; run < runs; run++) {
      let total = 0
      for (let n = 1; n <= 200; n++) {
        total += normalQuantile(uniform())
        if (Math.abs(total) / Math.sqrt(n) > anytimeMultiplier(1e9, anytimeRatio(n, 200), 0.05)) {
          wrong++
          break
        }
      }
    }
    expect(wrong / runs).toBeLessThan(0.05)
    expect(wrong / runs).toBeGreaterThan(0.005)
  })
  it('refuses a ratio or an error rate out of range', () => {
    expect(() => anytimeMultiplier(20, 0, 0.05)).toThrow(RangeError)
    expect(() => anytimeMultiplier(20, 0.1, 1)).toThrow(RangeError)
    expect(() => anytimeRatio(1, 0)).toThrow(RangeError)
  })
})
