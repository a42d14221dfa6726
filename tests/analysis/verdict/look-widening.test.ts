import { describe, expect, it } from 'vitest'
import { anytimeMultiplier } from '#analysis/numeric/anytime-interval.ts'
import { wideningOf } from '#analysis/verdict/look-widening.ts'
import { seededRandom } from '#ingest/simulator/random.ts'

const z95 = 1.959963984540054
const statedS = 600
const everyS = 10

/**
 * Share of runs in which any look, every ten seconds, or the end would pass a leak that is exactly the allowance, when each
 * look's estimate has the noise given. The estimates are those of a line through the readings so far.
 */
function everPassed(noise: 'white' | 'walk', runs: number, seed: number, widen = wideningOf) {
  const random = seededRandom(seed)
  let live = 0
  let either = 0
  for (let run = 0; run < runs; run++) {
    let passedLive = false
    let passedEnd = false
    let walk = 0
    let [n, st, stt, sy, sty] = [0, 0, 0, 0, 0]
    for (let t = everyS; t <= statedS; t += everyS) {
      const step = random.normal()
      walk += step
      n++
      st += t
      stt += t * t
      sy += step
      sty += t * step
      if (n < 3) continue
      const sxx = stt - (st * st) / n
      const z = noise === 'white' ? (sty - (st * sy) / n) / Math.sqrt(sxx) : walk / Math.sqrt(n)
      const ended = t === statedS
      const below = z + z95 * widen(!ended, t, statedS) < 0
      if (ended) passedEnd = below
      else passedLive ||= below
    }
    if (passedLive) live++
    if (passedLive || passedEnd) either++
  }
  return { live: live / runs, either: either / runs }
}

describe('wideningOf', () => {
  it('is 1 for a hold that ran its stated time and was not looked at', () => {
    expect(wideningOf(false, 600, 600)).toBe(1)
    expect(wideningOf(false, 571, 600)).toBe(1)
  })
  it('is that of r = 1/9 at four tenths of the stated time of a running hold: 3.10 standard errors in place of 1.96 (Lindon et al.)', () => {
    expect(wideningOf(true, 240, 600) * z95).toBeCloseTo(anytimeMultiplier(100, 1 / 9, 0.05), 12)
    expect(wideningOf(true, 240, 600) * z95).toBeCloseTo(3.1, 1)
  })
  it('is 1.90 at 15 % of the stated time and 1.66 at its end (computed)', () => {
    expect(wideningOf(true, 90, 600)).toBeCloseTo(1.9, 1)
    expect(wideningOf(true, 600, 600)).toBeCloseTo(1.66, 1)
  })
  it('is wide early, narrower up to four tenths of the stated time, and bounded', () => {
    const widths = [1, 10, 60, 150, 240].map((t) => wideningOf(true, t, 600))
    for (let i = 1; i < widths.length; i++) expect(widths[i]).toBeLessThanOrEqual(widths[i - 1])
    expect(widths[0]).toBeLessThanOrEqual(25)
  })
  it('a hold ended early is judged as one that was looked at', () => {
    expect(wideningOf(false, 300, 600)).toBe(wideningOf(true, 300, 600))
  })
})

describe('looking every ten seconds at a leak of exactly the allowance (4000 seeded runs)', () => {
  for (const noise of ['white', 'walk'] as const) {
    it(`${noise} noise: at most 2.5 % of running holds ever seem to pass`, () => {
      expect(everPassed(noise, 4000, 11).live).toBeLessThanOrEqual(0.025)
    })
    it(`${noise} noise: with the plain verdict at the end, hardly more than that verdict's own 2.5 %`, () => {
      expect(everPassed(noise, 4000, 12).either).toBeLessThanOrEqual(0.035)
    })
    it(`${noise} noise: plain intervals at every look would pass more than 8 % (the trap this is against)`, () => {
      expect(everPassed(noise, 4000, 13, () => 1).live).toBeGreaterThan(0.08)
    })
  }
})
