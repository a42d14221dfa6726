import { expect, test } from 'vitest'
import { exactPosterior } from '#analysis/hunt/exact-posterior.ts'
import { type LeakPath, type LeakProblem, rateMixture } from '#analysis/hunt/leak-problem.ts'
import { sampledPosterior } from '#analysis/hunt/sampled-posterior.ts'

const tight: LeakPath = { prior: 0.05, breaks: [], looks: [null] }
const worked: LeakPath = {
  prior: 0.05,
  breaks: [{ cure: 0.6, unchanged: 0.25, harm: 0.02 }],
  looks: [null, null],
}
const at = (path: number, epoch = 0) => ({ path, epoch, factor: 1 })

const mixed: LeakProblem = {
  rates: rateMixture(1e-7),
  paths: [tight, { ...tight, prior: 0.1 }, worked],
  rows: [
    { molPerS: 8e-7, stdMolPerS: 4e-8, terms: [at(0), at(1), at(2)] },
    { molPerS: 3e-7, stdMolPerS: 4e-8, terms: [at(0), at(1), at(2, 1)] },
  ],
  verdictRows: [{ leaks: true, detection: 0.95, falseAlarm: 0.05, terms: [at(0), at(1)] }],
}

test('sampledPosterior() agrees with exactPosterior() within four of its stated errors (law)', () => {
  const exact = exactPosterior(mixed)!
  const sampled = sampledPosterior(mixed, { seed: 2, chains: 4, rounds: 3000 })
  exact.paths.forEach((path, p) => {
    const { leaking, error } = sampled.paths[p]
    expect(Math.abs(leaking - path.leaking)).toBeLessThan(4 * error + 0.002)
  })
})

test('sampledPosterior() of one seed gives the same numbers again (law)', () => {
  const effort = { seed: 5, chains: 2, rounds: 100 }
  expect(sampledPosterior(mixed, effort)).toEqual(sampledPosterior(mixed, effort))
})

test('exactPosterior() of one fitting and one verdict is the rule of Bayes (computed by hand)', () => {
  const one: LeakProblem = {
    rates: rateMixture(1e-7),
    paths: [tight],
    rows: [],
    verdictRows: [{ leaks: true, detection: 0.9, falseAlarm: 0.2, terms: [at(0)] }],
  }
  expect(exactPosterior(one)!.paths[0].leaking).toBeCloseTo((0.05 * 0.9) / (0.05 * 0.9 + 0.95 * 0.2), 12)
})

test('exactPosterior() gives up where there are too many combinations (refuses)', () => {
  expect(exactPosterior({ ...mixed, paths: Array(60).fill(tight) })).toBeNull()
})
