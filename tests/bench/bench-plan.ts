/** Somebody else's way of doing the same work on the same data. */
export interface Rival {
  readonly name: string
  run(): unknown
  /** How many times the rival's time must be that of ours; below 1 where ours may take longer. Null: told, not judged. */
  readonly goal: number | null
}

/** Work timed against rivals, in turns, so that a busy machine slows all of them alike. */
export interface Race {
  readonly kind: 'race'
  readonly name: string
  /** Whole processes: `run` returns their processor time, [ms], which counts in place of the time on the clock. */
  readonly isProcess?: true
  /** Ours: one round of the work. What it returns is only there so that the work cannot be left out. */
  run(): unknown
  readonly rivals: readonly Rival[]
}

/** Figures that are measured as such: seconds, megabytes. */
export interface Figures {
  readonly kind: 'figures'
  readonly name: string
  readonly figures: readonly {
    readonly name: string
    readonly value: number
    readonly unit: string
    /** Null: told, not judged. */
    readonly atMost: number | null
  }[]
}

/**
 * What a `*.bench.ts` file exports as `plans`. Data is made when a plan's turn comes, and let go after it.
 *
 * @param quick a few seconds for everything together: to see that it runs, not to quote
 */
export type BenchPlan = (quick: boolean) => Race | Figures | Promise<Race | Figures>
