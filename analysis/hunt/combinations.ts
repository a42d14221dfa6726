/** n over k; 0 where k exceeds n. */
export function combinations(n: number, k: number): number {
  if (k < 0 || k > n) return 0
  let ways = 1
  for (let i = 1; i <= k; i++) ways = (ways * (n - k + i)) / i
  return Math.round(ways)
}

/** The combination of this rank among all k of n in lexicographic order, indices from 0. */
export function combination(n: number, k: number, rank: number): number[] {
  const out: number[] = []
  let rest = rank
  for (let i = 0, left = k; left > 0; i++) {
    const withI = combinations(n - i - 1, left - 1)
    if (rest < withI) {
      out.push(i)
      left--
    } else rest -= withI
  }
  return out
}

/** Elementary symmetric polynomials e₀ … e_most: sums of the products of all sets of so many values. */
export function symmetricSums(values: readonly number[], most: number): Float64Array {
  const sums = new Float64Array(most + 1)
  sums[0] = 1
  for (const value of values) for (let k = most; k > 0; k--) sums[k] += value * sums[k - 1]
  return sums
}
