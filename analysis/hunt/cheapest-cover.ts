/** A candidate set. */
export interface CoverSet {
  readonly members: readonly string[]
  readonly cost: number
  /** Shared items, each paid once however many chosen sets need it. */
  readonly once?: readonly string[]
}

/** Search limit: sets visited over all steps. */
const mostLooked = 500_000

/**
 * Minimum-cost set cover: branch and bound, depth first. Beyond the search limit it returns the best cover found
 * and a lower bound.
 *
 * @param onceCost cost of each id named in `once`
 * @returns indices of the chosen sets, their cost and its lower bound, equal if exact
 */
export function cheapestCover(
  universe: readonly string[],
  sets: readonly CoverSet[],
  onceCost: ReadonlyMap<string, number> = new Map(),
) {
  const members = sets.map((s) => new Set(s.members))
  // Members contained in the same sets are merged.
  const alike = new Map<string, number[]>()
  for (const id of universe) {
    const able = sets.flatMap((_, s) => (members[s].has(id) ? [s] : []))
    if (able.length > 0) alike.set(able.join(), able)
  }
  const able = [...alike.values()]
  const masks = sets.map((_, s) =>
    able.reduce((m, by, i) => (by.includes(s) ? m | (1n << BigInt(i)) : m), 0n),
  )
  const whole = (1n << BigInt(able.length)) - 1n
  const useful = new Set(undominated(masks, sets))
  const options = able.map((by) => by.filter((s) => useful.has(s)))
  const added = (chosen: readonly number[], s: number): number => {
    const paid = new Set(chosen.flatMap((c) => sets[c].once ?? []))
    return (sets[s].once ?? []).reduce(
      (sum, id) => sum + (paid.has(id) ? 0 : (onceCost.get(id) ?? 0)),
      sets[s].cost,
    )
  }
  /** Lower bound: each open member pays its share of the set with the lowest cost per member. */
  const leastFor = (left: bigint): number => {
    const share = new Map([...useful].map((s) => [s, sets[s].cost / countBits(masks[s] & left)]))
    return options.reduce(
      (sum, by, i) => ((left >> BigInt(i)) & 1n ? sum + Math.min(...by.map((s) => share.get(s)!)) : sum),
      0,
    )
  }

  let best = { chosen: [] as readonly number[], cost: Number.POSITIVE_INFINITY }
  const bound = leastFor(whole)
  let looked = 0
  const search = (left: bigint, chosen: readonly number[], cost: number): void => {
    looked += useful.size
    if (looked > mostLooked) return
    if (cost + leastFor(left) >= best.cost - 1e-9) return
    if (left === 0n) {
      best = { chosen, cost }
      return
    }
    // Branch on the member with the fewest candidate sets, on the cheapest set per open member first.
    const fewest = options
      .filter((_, i) => (left >> BigInt(i)) & 1n)
      .reduce((least, by) => (by.length < least.length ? by : least))
    fewest
      .map((s) => ({ s, more: added(chosen, s) }))
      .sort((a, b) => a.more / countBits(masks[a.s] & left) - b.more / countBits(masks[b.s] & left))
      .forEach(({ s, more }) => {
        search(left & ~masks[s], [...chosen, s], cost + more)
      })
  }
  search(whole, [], 0)
  const exact = looked <= mostLooked
  return { ...best, bound: exact ? best.cost : bound, exact }
}

/** Sets that are not dominated by a superset of equal or lower cost. */
function undominated(masks: readonly bigint[], sets: readonly CoverSet[]): number[] {
  return masks.flatMap((mask, i) => {
    if (mask === 0n) return []
    const { cost, once = [] } = sets[i]
    const beaten = masks.some(
      (other, j) =>
        j !== i &&
        (mask & ~other) === 0n &&
        sets[j].cost <= cost &&
        (sets[j].once ?? []).every((id) => once.includes(id)) &&
        (other !== mask || sets[j].cost < cost || (sets[j].once ?? []).length < once.length || j < i),
    )
    return beaten ? [] : [i]
  })
}

function countBits(mask: bigint): number {
  let count = 0
  for (let rest = mask; rest !== 0n; rest &= rest - 1n) count++
  return count
}
