import { expect, it } from 'vitest'
import { hunt } from '#analysis/hunt/hunt.ts'
import { analyzeRecording } from '#analysis/verdict/analyze-recording.ts'
import { readRecording } from '#ingest/recording/read-recording.ts'
import { systemFromFile } from '#ingest/system-file/read-system-file.ts'
import { plainHold, plainText } from '#tests/analysis/fit/plain-bench.ts'

const line = plainHold('line', { leak: 3 })
/** The tank is a line of 0.2 L here: what 0.35 L lose by 0.3 psi raises it by 0.525 psi. */
const system = systemFromFile(
  line.system
    .replace('volume: 80 L ± 5 %', 'volume: 0.2 L ± 5 %, kind: line')
    .replace('sections: [left-feed], shut: [V1, V2]', 'sections: [left-feed], shut: [V1, V2]'),
  'neighbors.yaml',
)

function analyzed(risePsi: number) {
  const { holdS } = line.times
  const text = plainText(line, 'line').replace(/p1=(\S+) (\d+)/g, (_, fields: string, ns: string) => {
    const timeS = Number(BigInt(ns) / 1_000_000n) / 1000 - 1_767_225_600
    const psi = 0.042 + (risePsi * Math.max(0, timeS - holdS)) / 600 + 1e-4 * Math.sin(timeS * 7)
    return `p1=${fields},p2=${psi.toFixed(5)} ${ns}`
  })
  const [{ result }] = analyzeRecording(readRecording(text, system, 'n.lp'), system)
  return {
    result,
    found: hunt(system, [{ kind: 'hold', record: null, result, system, corrects: null, retests: null }]),
  }
}

it('analyzeRecording() and hunt() see a valve that passes by the gauge of its shut neighbor: 0.35 L lose what 0.2 L gain (pV = nRT)', () => {
  const { result, found } = analyzed(0.525)
  const gain = -(0.525 * 6894.757 * 0.0002) / (8.314462618 * 293.15 * 600)
  expect(result.neighbors?.map((n) => n.section)).toEqual(['left-tank'])
  expect(result.neighbors![0].mol_per_s!.value / gain).toBeCloseTo(1, 1)
  expect(result.reasons.find((r) => r.code === 'valve-passing')?.message).toContain('V1')
  expect(found.valves.find((v) => v.id === 'V1')!.passing).toBeGreaterThan(0.9)
  expect(found.message).toMatch(/^Valve V1 passes, (over )?9\d % sure\.$/)
})

it('analyzeRecording() tells no gain of a neighbor that stands still (law)', () => {
  expect(analyzed(0).result.neighbors).toBeUndefined()
})
