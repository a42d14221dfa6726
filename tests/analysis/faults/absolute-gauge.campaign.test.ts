import { describe, expect, it } from 'vitest'
import type { SectionLeak } from '#analysis/model/hold-result.ts'
import { analyzeRecording } from '#analysis/verdict/analyze-recording.ts'
import { readRecording } from '#ingest/recording/read-recording.ts'
import { systemFromFile } from '#ingest/system-file/read-system-file.ts'
import { plainHold, plainText } from '#tests/analysis/fit/plain-bench.ts'

const psiPa = 6894.757293168

/** A tank read by an absolute transducer at an airfield so high, the barometer of the plain hold kept or left out. */
function judged(leak: number, heightPa: number, barometer: boolean, seenBefore: boolean) {
  const hold = plainHold('tank', { leak, barometerPaPerH: 0 })
  const system = systemFromFile(
    hold.system
      .replace(/(id: p-tank\n {4}measures: )gauge-pressure/, '$1absolute-pressure')
      .replace(/range: -0.3 psi to 3 psi/, 'range: 8 psi to 20 psi'),
    'plain.yaml',
  )
  // The atmosphere of the plain hold is 101.025 kPa.
  const rows = hold.rows
    .filter(({ timeS }) => seenBefore || timeS > hold.times.pumpS)
    .map(({ psi, hPa, ...row }) => ({
      ...row,
      psi: psi === null ? null : Number((psi + (101_025 - heightPa) / psiPa).toFixed(4)),
      hPa: barometer && hPa !== null ? hPa - heightPa / 100 : null,
    }))
  const recording = readRecording(plainText({ ...hold, rows }, 'tank'), system, 'plain.lp')
  const [{ result }] = analyzeRecording(recording, system)
  const { low, high } = (result.leak as SectionLeak).drop_Pa
  const truthPa = hold.leakPsi * psiPa
  return { verdict: result.verdict, holdsTruth: low < truthPa && truthPa < high, low, high }
}

describe('an absolute transducer on a tank of 1 psi', () => {
  it.each([
    [6000, true],
    [6000, false],
    [-2000, false],
  ])('its zero is what it read before pump-up, %d Pa off sea level, barometer %s', (heightPa, barometer) => {
    expect(judged(0, heightPa, barometer, true).verdict).toBe('pass')
    const leaking = judged(1.25, heightPa, barometer, true)
    expect(leaking.holdsTruth).toBe(true)
    expect(leaking.verdict).not.toBe('pass')
    expect(judged(3, heightPa, barometer, true).verdict).toBe('fail')
  })

  it('without a barometer and without a reading before pump-up nobody knows its pressure: no leak passes, and the interval is wide', () => {
    const seen = judged(1, 0, false, true)
    const unseen = judged(1, 0, false, false)
    expect(unseen.verdict).not.toBe('pass')
    expect(unseen.high - unseen.low).toBeGreaterThan(4 * (seen.high - seen.low))
  })
})
