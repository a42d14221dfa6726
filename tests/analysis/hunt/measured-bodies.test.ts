import { expect, it } from 'vitest'
import { measuredBodies } from '#analysis/hunt/leak-figures.ts'
import type { SectionLeak } from '#analysis/model/hold-result.ts'
import { holdCoverage } from '#analysis/model/system-graph.ts'
import { analyzeRecording } from '#analysis/verdict/analyze-recording.ts'
import { readRecording } from '#ingest/recording/read-recording.ts'
import { systemFromFile } from '#ingest/system-file/read-system-file.ts'
import { plainHold, plainText } from '#tests/analysis/fit/plain-bench.ts'

const line = plainHold('line', { leak: 0.5 })
/** Tank and line as one volume: the valve between them is open, and each has its gauge. */
const system = systemFromFile(
  line.system
    .replace('-0.3 psi to 3 psi', '-3 psi to 30 psi')
    .replace('max-pressure: 2 psi', 'max-pressure: 15 psi')
    .replace('volume: 80 L ± 5 %', 'volume: 0.65 L ± 5 %, stretch: 0 % per bar, kind: line')
    .replace('sections: [left-feed], shut: [V1, V2]', 'sections: [left-feed, left-tank], shut: [V2]'),
  'joined.yaml',
)

/** Both gauges and thermometers read the one volume. */
const text = plainText(line, 'line').replaceAll(/\b([pt])1=([^, ]+)/g, '$11=$2,$12=$2')

it('measuredBodies(two gauges on one volume) has its leak once: 0.05 psi in 1 L and 600 s at 20 °C, 2.357e-7 mol/s (pV = nRT)', () => {
  const [{ result }] = analyzeRecording(readRecording(text, system, 'a.lp'), system)
  const leaks = result.leak as readonly SectionLeak[]
  expect(leaks.map(({ section }) => section)).toEqual(['left-feed', 'left-tank'])
  const whole = (0.05 * 6894.757 * 0.001) / (8.314462618 * 293.15 * 600)
  for (const { mol_per_s } of leaks) expect((mol_per_s?.value ?? 0) / whole).toBeCloseTo(1, 1)
  const bodies = measuredBodies(holdCoverage(system, system.holds[0]), leaks)
  expect(bodies).toHaveLength(1)
  expect(bodies[0].figure.molPerS / whole).toBeCloseTo(1, 1)
})
