import { readFileSync } from 'node:fs'
import { describe, expect, test } from 'vitest'
import { kept } from '#tests/kept-figures.ts'
import {
  analysesOfDemo,
  analysesOfSimulated,
  demoRecordings,
  figuresOf,
  simulatedHolds,
} from './demo-cases.ts'

/**
 * The simulation knows the leak, so the verdicts have their value from outside. The kept figures are what the analysis said
 * when it was last validated: a figure that moves is a decision. Measure the error rates anew, then `npm run docs`.
 */
const figures = JSON.parse(readFileSync(new URL('kept-figures.json', import.meta.url), 'utf8'))

describe('analyzeRecording: every demo recording gets the verdict that expected.json gives it, and its kept figures', () => {
  test.each(demoRecordings.map(({ file, hold, verdict }) => [file, verdict, hold] as const))(
    '%s: %s',
    (file, verdict, hold) => {
      const analyses = analysesOfDemo(file)
      const results = analyses.map(({ result }) => result)
      expect(results.map(({ hold: id }) => id)).toEqual([hold])
      expect(results[0].verdict, results[0].reasons.map(({ message }) => message).join(' ')).toBe(verdict)
      expect(kept(figuresOf(analyses))).toEqual(figures[file])
    },
  )
})

describe('analyzeRecording: seeded holds for what no demo recording reaches get their kept figures', () => {
  test.each(simulatedHolds)('%s', (name) => {
    expect(kept(figuresOf(analysesOfSimulated(name)))).toEqual(figures[name])
  })
})
