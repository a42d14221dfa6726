import { describe, expect, it, test } from 'vitest'
import { analyzeRecording } from '#analysis/verdict/analyze-recording.ts'
import { readRecording } from '#ingest/recording/read-recording.ts'
import { systemFromFile } from '#ingest/system-file/read-system-file.ts'
import { type BenchPlan, playBench } from '#tests/validation/worlds/play-bench.ts'

/** What becomes of a leaking hold at a bench that is wrong (second world, seeded). */
function verdictAt(plan: BenchPlan, edit: (recording: string) => string = (text) => text) {
  const played = playBench(plan)
  const system = systemFromFile(played.system, 'world.yaml')
  const [{ result }] = analyzeRecording(readRecording(edit(played.recording), system, 'world.lp'), system)
  return { ...result, codes: result.reasons.map(({ code }) => code) }
}

describe('a leaking hold at a bench that is wrong', () => {
  test.each([
    ['settle', 'cock-shut-in-settle', 1010, 4],
    ['settle', 'cock-shut-in-settle', 1166, 1.2],
    ['hold', 'cock-shut-in-hold', 1110, 4],
  ] as const)(
    'does not pass without a proof: the gauge cock was shut in the %s (%s, seed %i)',
    (_, fault, seed, leak) => {
      expect(verdictAt({ fault, seed, leak, sort: 'line' }).verdict).not.toBe('pass')
    },
  )

  test.each(['cock-shut-in-settle', 'cock-shut-in-hold', 'hose-clogged'] as const)(
    'does not pass with a known leak at its end: %s',
    (fault) => {
      const found = verdictAt({ fault, seed: 1028, leak: 2, sort: 'line', check: 'known-leak' })
      expect(found.verdict).not.toBe('pass')
      expect(found.proof?.proven).toBe(false)
    },
  )

  test.each([
    [1010, 'line'],
    [1020, 'tank'],
  ] as const)('does not pass while the regulator is on (seed %i, %s)', (seed, sort) => {
    expect(verdictAt({ fault: 'regulator-on', seed, leak: 4, sort }).verdict).not.toBe('pass')
  })

  it('does not pass where the section was marked not dry', () => {
    const wet = (text: string) => text.replace('name="pump-up"', 'name="pump-up",dry=false')
    const found = verdictAt({ fault: 'wet', seed: 1026, leak: 1.2, sort: 'line' }, wet)
    expect(found.verdict).not.toBe('pass')
  })

  it('marked not dry, a tight one does not pass either, and is told to vent and hold again', () => {
    const wet = (text: string) => text.replace('name="pump-up"', 'name="pump-up",dry=false')
    const found = verdictAt({ fault: 'none', seed: 2, leak: 0, sort: 'line' }, wet)
    expect(found.verdict).toBe('undecided')
    expect(found.codes).toContain('not-dry')
  })
})
