import { exactPosterior } from './exact-posterior.ts'
import type { LeakProblem, Posterior } from './leak-problem.ts'
import { sampledPosterior } from './sampled-posterior.ts'

/** Counts every combination where there are few enough, else samples with a stated error. */
export function leakPosterior(problem: LeakProblem): Posterior {
  return exactPosterior(problem) ?? sampledPosterior(problem)
}
