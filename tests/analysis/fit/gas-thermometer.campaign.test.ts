import { describe, expect, it } from 'vitest'
import type { SectionLeak } from '#analysis/model/hold-result.ts'
import { analyzeRecording } from '#analysis/verdict/analyze-recording.ts'
import { readRecording } from '#ingest/recording/read-recording.ts'
import { systemFromFile } from '#ingest/system-file/read-system-file.ts'
import { plainHold, plainText } from './plain-bench.ts'

const psiPa = 6894.757293168

/** A line that leaks as much as is allowed in a room that warms by 4 K/h: its thermometer stands in the gas and saw a little heat of pumping. */
function judged(seed: number, inGasS: number, heat: number, stretch: 'stated' | 'unstated') {
  const hold = plainHold('line', { leak: 1, rampKPerH: 4, heat, inGasS, seed, noisePsi: 0.001 })
  const file = stretch === 'stated' ? hold.system : hold.system.replace(', stretch: 0 % per bar', '')
  const system = systemFromFile(file, 'plain.yaml')
  const [{ result }] = analyzeRecording(readRecording(plainText(hold, 'line'), system, 'plain.lp'), system)
  const { low, high } = (result.leak as SectionLeak).drop_Pa
  const truthPa = hold.leakPsi * psiPa
  return { verdict: result.verdict, holdsTruth: low < truthPa && truthPa < high }
}

describe.each(['stated', 'unstated'] as const)(
  'a thermometer in the gas of a line, stretch %s: it may be taken for one on the wall, which leaves another leak',
  (stretch) => {
    it.each([
      [12, 0.05],
      [12, 0.02],
      [4, 0.05],
      [20, 0.05],
    ])(
      '%d s late, heat of %d of the pressure: the interval holds the truth, and no hold passes',
      (inGasS, heat) => {
        const holds = [1, 2, 3, 4, 5].map((seed) => judged(seed, inGasS, heat, stretch))
        expect(holds.filter(({ verdict }) => verdict === 'pass')).toEqual([])
        expect(holds.filter(({ holdsTruth }) => holdsTruth).length).toBeGreaterThanOrEqual(4)
      },
    )
  },
)
