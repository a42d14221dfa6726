import { expect, test } from 'vitest'
import { analyzeRecording } from '#analysis/verdict/analyze-recording.ts'
import { BenchStory } from '#tests/analysis/verdict/bench-story.ts'
import type { Scenario } from '#tests/simulator/scenario.ts'
import { leaksOverAllowance, situations } from '#tests/simulator/situations.ts'

type Play = (story: BenchStory, procedure: Scenario['procedure'], line: boolean) => void

function pumpUp(story: BenchStory, { beforeS, pressurePsi, pumpTo, pumpUpS, dwellS }: Scenario['procedure']) {
  story.wait(beforeS)
  story.stage('pump-up')
  story.pump(pressurePsi * pumpTo, pumpUpS)
  story.wait(dwellS)
  story.shutSupply()
}

function holdAndVent(story: BenchStory, { settleS, holdS, ventTauS, ventS }: Scenario['procedure']) {
  story.stage('settle')
  story.wait(settleS)
  story.stage('hold')
  story.wait(holdS)
  story.stage('vent')
  story.vent(ventTauS, ventS)
  story.stage('end')
  story.closeVent()
}

const ways: readonly [way: string, play: Play][] = [
  [
    'by a regulator',
    (story, procedure) => {
      pumpUp(story, procedure)
      holdAndVent(story, procedure)
    },
  ],
  [
    'by strokes of a hand pump with a rest',
    (story, procedure, line) => {
      story.wait(procedure.beforeS)
      story.stage('pump-up')
      const everyS = line ? 1.5 : 2.5
      story.strokes(procedure.pressurePsi * 0.7, line ? 8 : 25, everyS)
      story.wait(line ? 25 : 60)
      story.strokes(procedure.pressurePsi * procedure.pumpTo * 1.02, line ? 5 : 15, everyS)
      holdAndVent(story, procedure)
    },
  ],
  [
    'too far and bled to the line',
    (story, procedure, line) => {
      story.wait(procedure.beforeS)
      story.stage('pump-up')
      story.pump(procedure.pressurePsi * 1.25, procedure.pumpUpS)
      story.shutSupply()
      story.wait(line ? 8 : 30)
      story.bleed(procedure.pressurePsi * 1.01, line ? 10 : 60)
      holdAndVent(story, procedure)
    },
  ],
  [
    'and topped up in the middle of the settle',
    (story, procedure) => {
      pumpUp(story, { ...procedure, pumpTo: 1, dwellS: 0 })
      story.wait(procedure.settleS * 0.4)
      story.pump(procedure.pressurePsi * 1.02, 3)
      story.shutSupply()
      holdAndVent(story, procedure)
    },
  ],
  [
    'in a long recording, and vented slowly',
    (story, procedure, line) => {
      story.wait(900)
      pumpUp(story, procedure)
      holdAndVent(story, { ...procedure, ventTauS: line ? 25 : 90, ventS: line ? 120 : 400 })
      story.wait(1200)
    },
  ],
  [
    'in a recording that begins under pressure',
    (story, procedure) => {
      const fromS = 60 + procedure.pumpUpS + procedure.dwellS
      story.fault = (sample) => (sample.timeS < fromS ? null : sample)
      pumpUp(story, { ...procedure, beforeS: 30 })
      holdAndVent(story, procedure)
    },
  ],
  [
    'twice in one recording',
    (story, procedure) => {
      for (let n = 0; n < 2; n++) {
        pumpUp(story, procedure)
        holdAndVent(story, procedure)
      }
    },
  ],
  [
    'in a recording that ends before the vent',
    (story, procedure) => {
      pumpUp(story, procedure)
      story.stage('settle')
      story.wait(procedure.settleS)
      story.stage('hold')
      story.wait(procedure.holdS)
    },
  ],
]

test('analyzeRecording without stage marks gives the verdict it gives with them, in 95 of 100 seeded holds', () => {
  let seed = 7000
  let same = 0
  const different: string[] = []
  for (const [way, play] of ways)
    for (const [i, leak] of leaksOverAllowance.entries()) {
      seed++
      const line = i % 2 === 0
      const scenario = situations[seed % situations.length].scenario(seed, leak, line ? 'line' : 'tank')
      const story = new BenchStory(scenario, seed)
      play(story, scenario.procedure, line)
      const marked = story.recording()
      const verdicts = [marked, { ...marked, marks: [] }].map((recording) =>
        analyzeRecording(recording, story.system).map(({ result }) => result.verdict),
      )
      if (leak >= 1 && !verdicts[0].includes('pass'))
        expect(verdicts[1], `${way}, seed ${seed}, leak ${leak}`).not.toContain('pass')
      if (verdicts[0].join() === verdicts[1].join()) same++
      else different.push(`${way}, ${scenario.name}, seed ${seed}: ${verdicts.join(' without marks ')}`)
    }
  expect(same / (same + different.length), different.join('\n')).toBeGreaterThanOrEqual(0.95)
}, 120_000)
