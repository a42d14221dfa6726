import { describe, expect, it } from 'vitest'
import type { BudgetShare, BudgetSource, HoldResult, SectionLeak } from '#analysis/model/hold-result.ts'
import { analyzeRecording } from '#analysis/verdict/analyze-recording.ts'
import { readRecording } from '#ingest/recording/read-recording.ts'
import { systemFromFile } from '#ingest/system-file/read-system-file.ts'
import { simulateHold } from '#tests/simulator/simulate-hold.ts'
import { situations } from '#tests/simulator/situations.ts'
import { type PlainKind, type PlainOptions, plainHold, plainText } from './plain-bench.ts'
import { withTwin } from './twin-vessel.ts'

const asIs = (text: string): string => text
/** The line's allowance as a rate, so that its volume counts. */
const asRate = (text: string): string =>
  text.replace('allow: { drop: 0.1 psi }', 'allow: { leak: 1 scc/min }')

function resultOf(kind: PlainKind, options: PlainOptions = {}, changed = asIs, budget = true): HoldResult {
  const hold = plainHold(kind, { leak: 0.3, ...options })
  const system = systemFromFile(changed(hold.system), 'plain.yaml')
  const recording = readRecording(plainText(hold, kind), system, 'plain.lp')
  return analyzeRecording(recording, system, { budget })[0].result
}

function shareOf({ budget }: HoldResult, ...sources: BudgetSource[]): number {
  return (budget ?? []).reduce((sum, { source, share }) => sum + (sources.includes(source) ? share : 0), 0)
}

const sum = (budget: readonly BudgetShare[]): number => budget.reduce((all, { share }) => all + share, 0)

describe('the uncertainty budget of a gas hold', () => {
  const quiet = resultOf('line')

  it('shares are positive, largest first, and make 1', () => {
    for (const { budget } of [quiet, resultOf('tank')]) {
      expect(sum(budget!)).toBeCloseTo(1, 12)
      const shares = budget!.map(({ share }) => share)
      expect(shares).toEqual([...shares].sort((a, b) => b - a))
      expect(Math.min(...shares)).toBeGreaterThan(0)
    }
  })

  it('a gauge of ten times the noise takes a larger share, its drift (counted in units of the noise) with it', () => {
    const noisy = resultOf('line', { noisePsi: 0.03 })
    expect(shareOf(noisy, 'gauge')).toBeGreaterThan(shareOf(quiet, 'gauge'))
    expect(shareOf(noisy, 'gauge', 'drift')).toBeGreaterThan(shareOf(quiet, 'gauge', 'drift') + 0.1)
  })

  it('a room that swings by 1 K in ten minutes makes heat and temperature the first source', () => {
    const moving = resultOf('line', { swingK: 1, rampKPerH: 3 })
    expect(moving.budget![0].source).toBe('heat')
    expect(shareOf(moving, 'heat', 'temperature')).toBeGreaterThan(
      shareOf(quiet, 'heat', 'temperature') + 0.3,
    )
  })

  it('the volume has the share that the interval loses when it is known exactly, and then none', () => {
    const widthOf = ({ leak }: HoldResult): number => {
      const { low, high } = (leak as SectionLeak).mol_per_s!
      return high - low
    }
    const stated = resultOf('line', { leak: 2 }, asRate)
    const exact = resultOf('line', { leak: 2 }, (text) => asRate(text).replace('0.35 L ± 10 %', '0.35 L'))
    expect(shareOf(exact, 'volume')).toBe(0)
    expect(shareOf(stated, 'volume')).toBeCloseTo(1 - (widthOf(exact) / widthOf(stated)) ** 2, 1)
    // A drop is no amount: the volume does not count.
    expect(shareOf(quiet, 'volume')).toBe(0)
  })

  it('a stated stretch leaves no share of it to a hold judged by its drop', () => {
    expect(shareOf(resultOf('tank'), 'compliance')).toBeGreaterThan(0)
    const rigid = resultOf('tank', {}, (text) =>
      text.replace('max-pressure: 2 psi', 'max-pressure: 2 psi, stretch: 0 % per bar'),
    )
    expect(shareOf(rigid, 'compliance')).toBe(0)
  })

  it('a gauge whose zero moved says so: calibration takes what the interval was widened by', () => {
    const hold = plainHold('line', { leak: 0.3 })
    const { ventS, endS } = hold.times
    const last = hold.rows[hold.rows.length - 1]
    const rest = Array.from({ length: 120 }, (_, k) => ({
      ...last,
      timeS: endS + 1 + k,
      psi: (k % 3) * 0.003,
    }))
    const rows = [...hold.rows, ...rest].map(({ psi, ...row }) => ({
      ...row,
      psi: Number(((psi ?? 0) - (0.2 * row.timeS) / ventS).toFixed(4)),
    }))
    const marks = hold.marks.map((mark) => (mark.timeS === endS ? { ...mark, timeS: endS + 120 } : mark))
    const system = systemFromFile(hold.system, 'plain.yaml')
    const text = plainText({ rows, marks }, 'line')
    const [{ result }] = analyzeRecording(readRecording(text, system, 'x'), system, { budget: true })
    expect(result.reasons.map(({ code }) => code)).toContain('zero-drifted')
    expect(shareOf(result, 'calibration')).toBeGreaterThan(shareOf(quiet, 'calibration') + 0.1)
  })

  it('a tank beside a closed vessel that is taken in has a share of it, and the weather that nobody measured hardly any', () => {
    const scenario = situations.find(({ name }) => name === 'no-barometer')!.scenario(1, 0.5, 'tank')
    const alone = simulateHold(scenario, 1)
    const twin = withTwin(alone, 1)
    const [without] = analyzeRecording(alone.recording, alone.system, { budget: true })
    const [beside] = analyzeRecording(twin.recording, twin.system, { budget: true })
    expect(beside.result.reasons.map(({ code }) => code)).toContain('reference-vessel-used')
    expect(shareOf(beside.result, 'vessel')).toBeGreaterThan(0.01)
    expect(shareOf(without.result, 'vessel')).toBe(0)
    // Nobody measured the atmosphere, and the vessel felt it as well.
    expect(shareOf(without.result, 'weather')).toBeGreaterThan(shareOf(beside.result, 'weather'))
  })

  it('is there only when asked for, of a full line too, and changes nothing else', () => {
    const { budget, ...rest } = quiet
    expect(resultOf('line', {}, asIs, false)).toEqual(rest)
    const wet = resultOf('line', {}, (text) =>
      text.replace('left-feed, medium: air', 'left-feed, medium: avgas'),
    )
    expect(wet.budget?.reduce((sum, { share }) => sum + share, 0)).toBeCloseTo(1, 9)
    expect(shareOf(wet, 'temperature')).toBeGreaterThan(shareOf(quiet, 'temperature'))
  })
})
