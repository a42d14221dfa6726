import { describe, expect, it, test } from 'vitest'
import { analyzeRecording } from '#analysis/verdict/analyze-recording.ts'
import { readRecording } from '#ingest/recording/read-recording.ts'
import { systemFromFile } from '#ingest/system-file/read-system-file.ts'
import { type BenchPlan, playBench } from '#tests/validation/worlds/play-bench.ts'

/** A hold of the second world, whose system file and recording may be edited as text before they are read. */
function held(
  plan: Partial<BenchPlan>,
  edit: { system?: (text: string) => string; recording?: (text: string) => string } = {},
) {
  const played = playBench({ seed: 2, sort: 'line', fault: 'none', leak: 0, ...plan })
  const system = systemFromFile((edit.system ?? String)(played.system), 'world.yaml')
  const text = (edit.recording ?? String)(played.recording)
  const [{ result }] = analyzeRecording(readRecording(text, system, 'world.lp'), system)
  return { result, codes: result.reasons.map(({ code }) => code) }
}

const required = (text: string) => text.replace('    allow:', '    proof: required\n    allow:')

describe('analyzeRecording() of a hold with a check at its end (second world, seeded)', () => {
  it('finds the known leak within a quarter, and the tight hold passes', () => {
    const { result } = held({ check: 'known-leak' }, { system: required })
    expect(result.verdict).toBe('pass')
    expect(result.proof).toMatchObject({ kind: 'known-leak', check: 'K1', unit: 'mol_per_s', proven: true })
    const { expected, found } = result.proof!
    expect(found!.low / expected).toBeGreaterThan(0.75)
    expect(found!.high / expected).toBeLessThan(1.25)
  })
  it('finds the known volume within a quarter', () => {
    const { result } = held({ check: 'known-volume', seed: 24 })
    expect(result.proof).toMatchObject({ kind: 'known-volume', unit: 'm3', proven: true })
  })
  it('does not count the known leak as a leak of the section', () => {
    const { result } = held({ check: 'known-leak' })
    const plain = held({})
    const high = (of: typeof result) => (of.leak as { drop_Pa: { high: number } }).drop_Pa.high
    expect(high(result)).toBeLessThan(1.5 * high(plain.result))
  })
  it('is void where the cock of the gauge was shut in the settle: the check does not show', () => {
    const { result, codes } = held({ fault: 'cock-shut-in-settle', leak: 4, check: 'known-leak' })
    expect(result.verdict).toBe('void')
    expect(codes).toContain('proof-contradicted')
  })
  it('is undecided where the check stood open for too short a time to be shown within a quarter', () => {
    const { result, codes } = held(
      { check: 'known-leak', seed: 92, sort: 'tank' },
      { recording: (text) => text.replace(/^mark,kind=check,id=K1 open=false.*\n/m, '') },
    )
    expect(result.verdict).not.toBe('pass')
    expect(codes.some((code) => code.startsWith('proof-') || code === 'interval-spans-allowance')).toBe(true)
  })
})

describe('a hold whose file requires a proof', () => {
  it('does not pass without one', () => {
    const { result, codes } = held({}, { system: required })
    expect(result.verdict).toBe('undecided')
    expect(codes).toContain('proof-missing')
    expect(result.proof).toBeNull()
  })
  it('requires it where a gauge cock is declared, and is void where that was marked shut', () => {
    const cock = (text: string) =>
      text.replace('holds:', 'valves:\n  - { id: GC, between: [s1], kind: gauge-cock }\nholds:')
    expect(held({}, { system: cock }).codes).toContain('proof-missing')
    const shut = (text: string) =>
      text.replace(
        /^(mark,kind=stage,hold=h1 name="hold") (\d+)/m,
        (_, mark, ns) => `mark,kind=valve,id=GC open=false ${BigInt(ns) - 10_000_000_000n}\n${mark} ${ns}`,
      )
    expect(held({}, { system: cock, recording: shut }).codes).toContain('gauge-cock-shut')
  })
})

describe('the supply', () => {
  test('its hose marked off after pump-up is the evidence; without a mark there is none', () => {
    expect(held({ supplyOff: true }).result.supply).toBe('off')
    expect(held({}).result.supply).toBeNull()
  })
})
