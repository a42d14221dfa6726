import { describe, expect, it } from 'vitest'
import { leakColumn } from '#analysis/fit/hold-columns.ts'
import type { SectionLeak } from '#analysis/model/hold-result.ts'
import { analyzeRecording } from '#analysis/verdict/analyze-recording.ts'
import { readRecording } from '#ingest/recording/read-recording.ts'
import { systemFromFile } from '#ingest/system-file/read-system-file.ts'
import { type PlainKind, type PlainOptions, plainHold, plainText } from './plain-bench.ts'

/** Analyzes a plain hold: verdict, codes and the drop over the true one's bounds, [psi]. */
function found(kind: PlainKind, options: PlainOptions) {
  const hold = plainHold(kind, options)
  const system = systemFromFile(hold.system, 'plain.yaml')
  const [{ result }] = analyzeRecording(readRecording(plainText(hold, kind), system, 'plain.lp'), system)
  const { low, high } = (result.leak as SectionLeak).drop_Pa
  return {
    verdict: result.verdict,
    codes: result.reasons.map(({ code }) => code),
    holdsTruth: low < hold.leakPsi * 6894.757 && hold.leakPsi * 6894.757 < high,
  }
}

const still: PlainOptions = { heat: 0, rampKPerH: 0, swingK: 0, barometerPaPerH: 0 }

describe('analyzeRecording on plain holds', () => {
  it('a tight line that never cools in a still room passes, with the caution that a supply left on looks the same', () => {
    expect(found('line', { ...still, hz: 5 })).toMatchObject({
      verdict: 'pass',
      codes: expect.arrayContaining(['supply-not-excluded']),
    })
  })

  it('a tight tank that never gives off the heat of pumping is void: its gas must cool', () => {
    expect(found('tank', still)).toMatchObject({
      verdict: 'void',
      codes: expect.arrayContaining(['pressure-held-up']),
    })
  })

  it.each([0, 0.5, 1])(
    'a tank that cools by 4 K/h and leaks 4 × the allowance fails whatever the flow law: (p² − p_b²)^%f',
    (flowExponent) => {
      const leaking = found('tank', { leak: 4, flowExponent, rampKPerH: -4, swingK: 0, heat: 0.02 })
      expect(leaking).toMatchObject({ verdict: 'fail', holdsTruth: true })
    },
  )
})

describe('analyzeRecording of a gauge that lies at the low end of its span after the vent', () => {
  /** A tight line read by a gauge of 0 to 30 psi that stands off by `restPsi` at rest, its readings as `read` makes them. */
  function vented(restPsi: number, read: (psi: number, timeS: number, ventS: number) => number) {
    const hold = plainHold('line', { hz: 5 })
    const system = systemFromFile(
      hold.system.replace('range: -3 psi to 30 psi', 'range: 0 psi to 30 psi'),
      'x',
    )
    const rows = hold.rows.map(({ psi, ...row }) => ({
      ...row,
      psi: Number(Math.max(0, read((psi ?? 0) + restPsi, row.timeS, hold.times.ventS)).toFixed(4)),
    }))
    const [{ result }] = analyzeRecording(
      readRecording(plainText({ ...hold, rows }, 'line'), system, 'x'),
      system,
    )
    return { verdict: result.verdict, codes: result.reasons.map(({ code }) => code) }
  }

  it('passes where its zero drifted there, by 0.2 % of the span', () => {
    expect(vented(0.04, (psi, timeS) => psi - (0.06 * timeS) / 900).verdict).toBe('pass')
  })

  it('is void where it fell there at once from a rest well clear of it: its plug came out', () => {
    expect(vented(0.4, (psi, timeS, ventS) => (timeS < ventS ? psi : 0))).toMatchObject({
      verdict: 'void',
      codes: expect.arrayContaining(['clipped']),
    })
  })

  it('does not pass where it fell there at once from a rest near it', () => {
    expect(vented(0.04, (psi, timeS, ventS) => (timeS < ventS ? psi : 0)).verdict).toBe('void')
  })
})

describe('leakColumn', () => {
  const atmospherePa = 100_000
  const rows = (gaugePa: readonly number[]) => ({
    fromS: Float64Array.from(gaugePa, (_, i) => 10 * i),
    toS: Float64Array.from(gaugePa, (_, i) => 10 * i + 10),
    absolutePa: Float64Array.from(gaugePa, (g) => g + atmospherePa),
    gaugePa: Float64Array.from(gaugePa),
    holdFromS: 5,
    statedHoldS: 100,
    testPa: 110_000,
    testGaugePa: 10_000,
  })
  const rigid = new Float64Array(11).fill(1)

  it('at the stated pressure every law loses its drop in the stated hold time', () => {
    for (const flowExponent of [0, 0.5, 1]) {
      const leak = leakColumn(rows(new Array(11).fill(10_000)), 0, flowExponent, rigid)
      expect(leak[10] - leak[0]).toBeCloseTo(-1, 12)
    }
  })

  it('at half the gauge pressure: (105² − 100²)/(110² − 100²) = 0.488 to the power of the exponent, over 105/110 (computed)', () => {
    for (const flowExponent of [0, 0.5, 1]) {
      const leak = leakColumn(rows(new Array(11).fill(5_000)), 0, flowExponent, rigid)
      const expected = ((1025 / 2100) ** flowExponent * 110) / 105
      expect(leak[10] - leak[0]).toBeCloseTo(-expected, 12)
    }
  })
})
