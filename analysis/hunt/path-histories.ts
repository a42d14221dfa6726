import type { LeakPath, RateMixture } from './leak-problem.ts'

/** A run of epochs over which a path leaks at one rate. */
export interface Run {
  readonly from: number
  readonly to: number
  readonly rateClass: number
}

/** One possible history of a path, with the log of its prior times the likelihood of its looks. */
export interface PathHistory {
  readonly runs: readonly Run[]
  readonly logWeight: number
}

/** Every history of a path over the rate classes given; stops early at `most` and then returns null. */
export function pathHistories(
  path: LeakPath,
  rates: RateMixture,
  allowed: readonly number[],
  most: number,
): PathHistory[] | null {
  const epochs = path.breaks.length + 1
  let open: PathHistory[] = [{ runs: [], logWeight: 0 }]
  for (let epoch = 0; epoch < epochs; epoch++) {
    const next: PathHistory[] = []
    for (const { runs, logWeight } of open) {
      const last = runs.at(-1)
      const leaked = last !== undefined && last.to === epoch - 1
      const change = epoch === 0 ? null : path.breaks[epoch - 1]
      const offChance = change === null ? 1 - path.prior : leaked ? change.cure : 1 - change.harm
      const newChance =
        change === null ? path.prior : leaked ? 1 - change.cure - change.unchanged : change.harm
      const looks = path.looks[epoch]
      push(next, runs, logWeight + Math.log(offChance) + (looks?.[0] ?? 0))
      for (const k of allowed)
        push(
          next,
          [...runs, { from: epoch, to: epoch, rateClass: k }],
          logWeight + Math.log(newChance * rates.weight[k]) + (looks?.[k + 1] ?? 0),
        )
      if (leaked && change !== null)
        push(
          next,
          [...runs.slice(0, -1), { ...last, to: epoch }],
          logWeight + Math.log(change.unchanged) + (looks?.[last.rateClass + 1] ?? 0),
        )
    }
    if (next.length > most) return null
    open = next
  }
  return open
}

function push(list: PathHistory[], runs: readonly Run[], logWeight: number): void {
  if (logWeight > Number.NEGATIVE_INFINITY) list.push({ runs, logWeight })
}
