import type { Plan } from '#analysis/model/plan.ts'
import type { System } from '#analysis/model/system.ts'
import type { DisplayUnits } from '#analysis/reasons/figures.ts'
import type { AnalysisThread } from './analysis-thread.ts'

/**
 * Caches plans: a rehearsal takes seconds of a thread, and a page asks again and again. A changed system file is another
 * system, and the plans of the old one are dropped with it.
 */
export class PlanCache {
  readonly #thread: Pick<AnalysisThread, 'plan'>
  readonly #known = new WeakMap<System, Map<string, Promise<Plan | null>>>()

  constructor(thread: Pick<AnalysisThread, 'plan'>) {
    this.#thread = thread
  }

  /** Null when the system has no such hold. */
  of(system: System, hold: string, units: DisplayUnits): Promise<Plan | null> {
    // unknown names come from outside: they are not kept
    if (!system.holds.some(({ id }) => id === hold)) return Promise.resolve(null)
    const known = this.#known.get(system) ?? new Map<string, Promise<Plan | null>>()
    this.#known.set(system, known)
    const key = JSON.stringify([hold, units])
    const before = known.get(key)
    if (before !== undefined) return before
    const made = this.#thread.plan(system, hold, units)
    known.set(key, made)
    // what failed once may work the next time
    made.catch(() => known.delete(key))
    return made
  }
}
