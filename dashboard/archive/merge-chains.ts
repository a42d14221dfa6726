import type { SealedRecord } from './record.ts'

/**
 * Merges several chains in time order. Within a chain the record numbers set the order, whatever its clock said:
 * the next record always comes from the chain whose next record was sealed earliest.
 */
export function mergeChains(chains: readonly (readonly SealedRecord[])[]): SealedRecord[] {
  const next = chains.map(() => 0)
  const merged: SealedRecord[] = []
  for (;;) {
    let first = -1
    for (let c = 0; c < chains.length; c++) {
      if (next[c] >= chains[c].length) continue
      if (first < 0 || chains[c][next[c]].sealed_at < chains[first][next[first]].sealed_at) first = c
    }
    if (first < 0) return merged
    merged.push(chains[first][next[first]++])
  }
}
