import { expect, test } from 'vitest'
import { reportOf, targetLines } from './report.ts'
import { scoreOf, type Trial } from './score.ts'

const naive = { dropPa: 0, interval: null, verdict: 'pass' as const }

function trial(leak: number, verdict: Trial['verdict'], low: number, high: number): Trial {
  const estimate = { value: (low + high) / 2, low, high }
  return {
    situation: 'steady',
    kind: 'line',
    seed: 1,
    leakOverAllowance: leak,
    truthDropPa: 100 * leak,
    truthMolPerS: 1e-7 * leak,
    verdict,
    reasons: [],
    drop: estimate,
    mol: { value: estimate.value * 1e-9, low: low * 1e-9, high: high * 1e-9 },
    analysisMs: 10,
    samples: 600,
    raw: naive,
    regression: { ...naive, interval: [-1, 1] },
  }
}

test('scoreOf counts coverage, false passes, false fails and decisions of six trials, counted by hand', () => {
  const score = scoreOf([
    trial(0, 'pass', -5, 5),
    trial(0, 'fail', 110, 130),
    trial(1, 'pass', 80, 95),
    trial(1, 'undecided', 90, 130),
    trial(2, 'fail', 190, 210),
    trial(2, 'undecided', 90, 210),
  ])
  expect(score).toMatchObject({
    trials: 6,
    dropCoverage: 4 / 6,
    molCoverage: 4 / 6,
    falsePass: 1 / 4,
    falsePassAtAllowance: 1 / 2,
    falseFail: 1 / 2,
    decidedTight: 1,
    decidedDouble: 1 / 2,
    void: 0,
  })
  // |87.5/100 − 1| and |110/100 − 1|: the median of 12.5 % and 10 %.
  expect(score.medianErrorAtAllowance).toBeCloseTo(0.1125, 12)
  expect(score.regression.coverage).toBeCloseTo(2 / 6, 12)
})

test('scoreOf: a hold without a figure covers nothing, and void is not decided', () => {
  const silent = { ...trial(0, 'void', 0, 0), drop: null, mol: null }
  expect(scoreOf([silent])).toMatchObject({ dropCoverage: 0, molCoverage: 0, decidedTight: 0, void: 1 })
})

test('targetLines: a single false pass among four leaking holds is named with its situation', () => {
  const lines = targetLines(
    reportOf([trial(0, 'pass', -5, 5), trial(1, 'pass', 90, 101), trial(2, 'fail', 190, 210)], []),
  )
  expect(lines.filter((line) => line.startsWith('- MISSED'))).toEqual([
    '- MISSED: a hold at or above the allowance passes in at most 2.5 %, in every situation (steady 50.0 %)',
    '- MISSED: the same for holds at exactly the allowance (steady 100.0 %)',
  ])
})

test('reportOf: more holds at exactly the allowance count there and in no other figure', () => {
  const even = [trial(0, 'pass', -5, 5), trial(1, 'pass', 90, 101)]
  const more = [trial(1, 'undecided', 90, 130), trial(1, 'fail', 101, 130), trial(1, 'undecided', 90, 130)]
  const report = reportOf(even, more)
  expect(report.rows).toEqual(reportOf(even, []).rows)
  expect(report.atAllowance).toEqual([
    { situation: 'steady', holds: 4, passes: 1 },
    { situation: 'all', holds: 4, passes: 1 },
  ])
})
