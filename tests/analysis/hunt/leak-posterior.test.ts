import { expect, test } from 'vitest'
import {
  type LeakPath,
  type LeakProblem,
  rateMixture,
  withoutSilentEpochs,
} from '#analysis/hunt/leak-problem.ts'
import { leakPosterior } from '#analysis/hunt/posterior.ts'

const tight: LeakPath = { prior: 0.05, breaks: [], looks: [null] }
const worked: LeakPath = {
  prior: 0.05,
  breaks: [{ cure: 0.6, unchanged: 0.25, harm: 0.02 }],
  looks: [null, null],
}
const at = (path: number, epoch = 0) => ({ path, epoch, factor: 1 })

test('leakPosterior() of one path and one verdict is the rule of Bayes (computed by hand)', () => {
  const one: LeakProblem = {
    rates: rateMixture(1e-7),
    paths: [tight],
    rows: [],
    verdictRows: [{ leaks: true, detection: 0.9, falseAlarm: 0.2, terms: [at(0)] }],
  }
  expect(leakPosterior(one).paths[0].leaking).toBeCloseTo((0.05 * 0.9) / (0.05 * 0.9 + 0.95 * 0.2), 12)
})

/** By brute force: every set of paths, rates on a fine grid of the mixture's density over the positive axis. */
function byGrid({ rates, paths, rows }: LeakProblem): number[] {
  const points = 120
  const low = 0.1 * rates.mean[0]
  const high = 1.6 * rates.mean[rates.mean.length - 1]
  const step = Math.log(high / low) / points
  const grid = Array.from({ length: points }, (_, i) => low * Math.exp((i + 0.5) * step))
  const density = grid.map((r) => {
    const of = rates.mean.reduce(
      (sum, m, k) => sum + (rates.weight[k] / rates.std[k]) * Math.exp(-0.5 * ((r - m) / rates.std[k]) ** 2),
      0,
    )
    return (of * r * step) / Math.sqrt(2 * Math.PI)
  })
  const leaking = paths.map(() => 0)
  let total = 0
  for (let set = 0; set < 2 ** paths.length; set++) {
    const on = paths.map((_, p) => p).filter((p) => (set >> p) & 1)
    const prior = paths.reduce((w, path, p) => w * (on.includes(p) ? path.prior : 1 - path.prior), 1)
    let sum = 0
    const go = (i: number, weight: number, sums: readonly number[]): void => {
      if (i === on.length) {
        sum +=
          weight *
          rows.reduce((w, r, j) => w * Math.exp(-0.5 * ((r.molPerS - sums[j]) / r.stdMolPerS) ** 2), 1)
        return
      }
      const factors = rows.map((r) => r.terms.find((t) => t.path === on[i])?.factor ?? 0)
      grid.forEach((r, g) => {
        if (density[g] > 0)
          go(
            i + 1,
            weight * density[g],
            sums.map((s, j) => s + factors[j] * r),
          )
      })
    }
    go(
      0,
      prior,
      rows.map(() => 0),
    )
    total += sum
    for (const p of on) leaking[p] += sum
  }
  return leaking.map((l) => l / total)
}

test('leakPosterior() of sums that share paths, one through a valve, agrees with a grid over all rates (law)', () => {
  const problem: LeakProblem = {
    rates: rateMixture(1e-7),
    paths: [tight, { ...tight, prior: 0.1 }, { ...tight, prior: 0.03 }],
    rows: [
      { molPerS: 5e-7, stdMolPerS: 4e-8, terms: [at(0), at(1)] },
      { molPerS: 3e-7, stdMolPerS: 4e-8, terms: [at(0), { path: 2, epoch: 0, factor: 1 }] },
      { molPerS: -1e-8, stdMolPerS: 3e-8, terms: [{ path: 2, epoch: 0, factor: -1 }, at(1)] },
    ],
    verdictRows: [],
  }
  const found = leakPosterior(problem)
  byGrid(problem).forEach((chance, p) => {
    expect(Math.abs(found.paths[p].leaking - chance)).toBeLessThan(0.015)
  })
})

test('leakPosterior() lets no negative leak explain a sum that is too large (law)', () => {
  const problem: LeakProblem = {
    rates: rateMixture(1e-7),
    paths: Array.from({ length: 12 }, () => tight),
    rows: [
      { molPerS: 10e-7, stdMolPerS: 2e-8, terms: [at(0)] },
      { molPerS: 9.2e-7, stdMolPerS: 2e-8, terms: Array.from({ length: 12 }, (_, p) => at(p)) },
    ],
    verdictRows: [],
  }
  const { paths } = leakPosterior(problem)
  expect(paths[0].leaking).toBeGreaterThan(0.999)
  for (const p of paths.slice(1)) expect(p.leaking).toBeLessThan(0.05)
})

test('leakPosterior() names the sum that no set of leaks explains (refuses)', () => {
  const { widened, misfits } = leakPosterior({
    rates: rateMixture(1e-7),
    paths: [tight, tight],
    rows: [
      { molPerS: 8e-7, stdMolPerS: 1e-8, terms: [at(0)] },
      { molPerS: 1e-7, stdMolPerS: 1e-8, terms: [at(0), at(1)] },
    ],
    verdictRows: [],
  })
  expect(widened).toBeGreaterThan(1)
  expect(Math.max(...misfits.map(Math.abs))).toBeGreaterThan(6)
})

test('leakPosterior() follows a path through work: a leak that went with it was there and is cured (computed by hand)', () => {
  const { paths } = leakPosterior({
    rates: rateMixture(1e-7),
    paths: [worked, tight],
    rows: [
      { molPerS: 5e-7, stdMolPerS: 2e-8, terms: [at(0, 0), at(1)] },
      { molPerS: 0, stdMolPerS: 2e-8, terms: [at(0, 1), at(1)] },
    ],
    verdictRows: [],
  })
  expect(paths[0].leaking).toBeLessThan(0.05)
  expect(paths[1].leaking).toBeLessThan(0.01)
})

test('leakPosterior() counts five leaks where five sections need them (law)', () => {
  const { paths, beyond } = leakPosterior({
    rates: rateMixture(1e-7),
    paths: Array.from({ length: 10 }, () => tight),
    rows: Array.from({ length: 5 }, (_, s) => ({
      molPerS: (s + 1) * 1e-6,
      stdMolPerS: 1e-7,
      terms: [at(2 * s), at(2 * s + 1)],
    })),
    verdictRows: [],
  })
  for (const p of paths) expect(p.leaking).toBeCloseTo(0.5, 1)
  expect(beyond).toBeLessThan(0.05)
})

test('withoutSilentEpochs() leaves every probability as it is: epochs that nothing saw part no histories (law)', () => {
  const breaks = [0.3, 0.6, 0.1, 0.5].map((cure) => ({ cure, unchanged: 1 - cure, harm: 0.001 * cure }))
  const silent: LeakProblem = {
    rates: rateMixture(1e-7),
    paths: [
      { prior: 0.05, breaks, looks: [null, null, null, null, null] },
      {
        prior: 0.1,
        breaks: breaks.slice(0, 2),
        looks: [null, null, [-0.1, ...rateMixture(1e-7).mean.map(() => -1)]],
      },
      tight,
    ],
    rows: [{ molPerS: 2e-7, stdMolPerS: 3e-8, terms: [at(0, 2), at(1, 1), at(2)] }],
    verdictRows: [{ leaks: false, detection: 0.9, falseAlarm: 0.1, terms: [at(0, 3), at(2)] }],
  }
  const short = withoutSilentEpochs(silent)
  expect(short.paths.map((path) => path.breaks.length)).toEqual([2, 1, 0])
  const [whole, merged] = [silent, short].map((problem) => leakPosterior(problem).paths)
  // Histories of three leaks in one joint are not counted in the whole problem.
  merged.forEach(({ leaking }, p) => {
    expect(leaking).toBeCloseTo(whole[p].leaking, 5)
  })
})
