/** A set to choose, with what it costs beside being one more set. */
export interface CoverSet {
  readonly members: readonly string[]
  /** Compared only between choices of equally many sets; smaller is better. */
  readonly cost: number
}

export interface FewestSets {
  /** Indices of the chosen sets. */
  readonly chosen: readonly number[]
  /** True when surely no fewer sets do it. */
  readonly exact: boolean
}

const mostNodes = 100_000

/**
 * Fewest sets that cover all members which any set covers, cheapest among equally few.
 * By search with growing number of sets; beyond 100 000 steps the greedy choice stands, and says so.
 */
export function fewestSets(universe: readonly string[], sets: readonly CoverSet[]): FewestSets {
  const bit = new Map(universe.map((id, i) => [id, 1n << BigInt(i)]))
  const masks = sets.map((s) => s.members.reduce((m, id) => m | (bit.get(id) ?? 0n), 0n))
  const target = masks.reduce((all, m) => all | m, 0n)
  if (target === 0n) return { chosen: [], exact: true }
  const useful = undominated(masks, sets)
  const greedy = greedyChoice(target, masks, useful, sets)

  let nodes = 0
  let best: { chosen: number[]; cost: number } | null = null
  const search = (left: bigint, chosen: number[], cost: number, depth: number): void => {
    if (++nodes > mostNodes || (best !== null && cost >= best.cost)) return
    if (left === 0n) {
      best = { chosen: [...chosen], cost }
      return
    }
    if (depth === 0) return
    // The member with the fewest sets to choose from leaves the fewest ways to try.
    let options: number[] | null = null
    for (let rest = left; rest !== 0n; rest &= rest - 1n) {
      const lowest = rest & -rest
      const able = useful.filter((s) => (masks[s] & lowest) !== 0n)
      if (options === null || able.length < options.length) options = able
      if (able.length <= 1) break
    }
    for (const s of options ?? []) search(left & ~masks[s], [...chosen, s], cost + sets[s].cost, depth - 1)
  }
  for (let depth = 1; depth <= greedy.length && nodes <= mostNodes; depth++) {
    search(target, [], 0, depth)
    if (best !== null && nodes <= mostNodes)
      return { chosen: (best as { chosen: number[] }).chosen, exact: true }
  }
  return { chosen: greedy, exact: false }
}

/** Sets that no other set contains at no higher cost. */
function undominated(masks: readonly bigint[], sets: readonly CoverSet[]): number[] {
  return masks.flatMap((mask, i) => {
    if (mask === 0n) return []
    const beaten = masks.some(
      (other, j) =>
        j !== i &&
        (mask & ~other) === 0n &&
        sets[j].cost <= sets[i].cost &&
        (other !== mask || sets[j].cost < sets[i].cost || j < i),
    )
    return beaten ? [] : [i]
  })
}

function greedyChoice(
  target: bigint,
  masks: readonly bigint[],
  useful: readonly number[],
  sets: readonly CoverSet[],
): number[] {
  const chosen: number[] = []
  for (let left = target; left !== 0n; ) {
    let best = -1
    let most = 0
    for (const s of useful) {
      const gain = countBits(masks[s] & left)
      if (gain > most || (gain === most && best >= 0 && sets[s].cost < sets[best].cost)) {
        best = s
        most = gain
      }
    }
    chosen.push(best)
    left &= ~masks[best]
  }
  return chosen
}

function countBits(mask: bigint): number {
  let count = 0
  for (let rest = mask; rest !== 0n; rest &= rest - 1n) count++
  return count
}
