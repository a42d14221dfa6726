import { describe, expect, test } from 'vitest'
import type { Mark, Recording } from '#analysis/model/samples.ts'
import { analyzeRecording } from '#analysis/verdict/analyze-recording.ts'
import { BenchStory } from '#tests/analysis/verdict/bench-story.ts'
import { situations } from '#tests/simulator/situations.ts'

/** A tight line held whole; nobody has marked it yet. */
const story = new BenchStory(situations[0].scenario(11, 0, 'line'), 11)
const { procedure } = story.scenario
const hold = story.system.holds[0].id
story.wait(procedure.beforeS)
const pumpS = story.nowS
story.pump(procedure.pressurePsi * procedure.pumpTo, procedure.pumpUpS)
story.shutSupply()
const settleS = story.nowS
story.wait(procedure.settleS)
const holdS = story.nowS
story.wait(procedure.holdS)
const ventS = story.nowS
story.vent(procedure.ventTauS, procedure.ventS)
const endS = story.nowS
const unmarked = story.recording()

function mark(name: string, timeS: number, of: string | null = hold): Mark {
  const timeNs = String(BigInt(unmarked.startNs) + BigInt(Math.round(timeS * 1e9)))
  return { timeNs, timeS, kind: 'stage', id: null, hold: of, fields: { name } }
}

const whole = [
  mark('pump-up', pumpS),
  mark('settle', settleS),
  mark('hold', holdS),
  mark('vent', ventS),
  mark('end', endS),
]
const without = (...names: string[]) => whole.filter(({ fields }) => !names.includes(String(fields.name)))

function results(marks: readonly Mark[], options: { hold?: string } = {}) {
  const recording: Recording = { ...unmarked, marks: [...marks].sort((a, b) => a.timeS - b.timeS) }
  return analyzeRecording(recording, story.system, options).map(({ result }) => result)
}

function told(marks: readonly Mark[]) {
  return results(marks).map(({ verdict, reasons, stages }) => ({
    verdict,
    code: reasons[0].code,
    source: stages.source,
  }))
}

const passes = [{ verdict: 'pass', code: 'leak-below-allowance', source: 'marks' }]
const found = [{ verdict: 'pass', code: 'leak-below-allowance', source: 'pressure' }]

describe('analyzeRecording(a tight hold, oddly marked; seeded bench)', () => {
  test.each<[string, readonly Mark[], readonly object[]]>([
    ['all five stages', whole, passes],
    ['no pump-up', without('pump-up'), passes],
    ['no settle', without('settle'), passes],
    ['no hold: it follows the stated settle', without('hold'), passes],
    ['no vent: the pressure shows it', without('vent'), passes],
    ['neither vent nor end', without('vent', 'end'), passes],
    ['an end only: as if nothing were marked', without('pump-up', 'settle', 'hold', 'vent'), found],
    ['vent and end only', without('pump-up', 'settle', 'hold'), found],
    ['no mark', [], found],
    ['a stage of an unknown name', [...whole, mark('pause', holdS + 100)], passes],
    ['settle before pump-up', [mark('settle', pumpS - 2), ...without('settle')], passes],
    ['marks that name no hold', whole.map((m) => ({ ...m, hold: null })), passes],
    ['the hold begun anew after a minute', [...whole, mark('hold', holdS + 60)], passes],
    ['pumped up once more before the settle', [...whole, mark('pump-up', pumpS + 3)], passes],
  ])('%s', (_, marks, expected) => expect(told(marks)).toEqual(expected))

  test('a hold begun anew counts from its last mark', () => {
    const [{ stages, seconds }] = results([...whole, mark('hold', holdS + 60)])
    expect(stages.hold_ns).toBe(mark('hold', holdS + 60).timeNs)
    expect(seconds).toBeCloseTo(ventS - holdS - 60, 2)
  })

  test('a hold that the file does not have is void and says so', () => {
    const marks = whole.map((m) => ({ ...m, hold: 'left-fed-10psi' }))
    expect(results(marks)).toMatchObject([
      { hold: 'left-fed-10psi', verdict: 'void', reasons: [{ code: 'hold-unknown' }], leak: null },
    ])
  })

  test('a settle given up before its time is void, the hold after it counts', () => {
    const early = [mark('pump-up', 1), mark('settle', 2), mark('vent', 4), mark('end', 5)]
    expect(told([...early, ...whole]).map(({ code }) => code)).toEqual([
      'hold-not-started',
      'leak-below-allowance',
    ])
  })

  test('marks without samples are void and say what is missing', () => {
    const recording = { ...unmarked, channels: [], marks: whole }
    const [{ result }] = analyzeRecording(recording, story.system)
    expect(result).toMatchObject({ verdict: 'void', reasons: [{ code: 'section-not-measured' }] })
  })

  test.each([0, 1, 3, 8, 20])('a vent marked %i s late does not make a leak of it', (lateS) => {
    const marks = [...without('vent', 'end'), mark('vent', ventS + lateS)]
    expect(told(marks)).toEqual(passes)
  })

  test.each([0, 0.5, 1, 2, 3])(
    'cut %f s after the vent began it is decided without the fall, or void',
    (afterS) => {
      const channels = unmarked.channels.map((c) => {
        const n = c.timeS.findIndex((t) => t > ventS + afterS)
        return { ...c, timeS: c.timeS.slice(0, n), reading: c.reading.slice(0, n) }
      })
      for (const marks of [whole.filter((m) => m.timeS <= ventS + afterS), []]) {
        const [{ result }] = analyzeRecording({ ...unmarked, channels, marks }, story.system)
        const fell = result.stages.vent_ns !== null && result.verdict === 'pass'
        expect(
          fell || result.reasons.some(({ code }) => /^(vent-not-recorded|no-vent-response)$/.test(code)),
        ).toBe(true)
        expect(['pass', 'void']).toContain(result.verdict)
      }
    },
  )
})
