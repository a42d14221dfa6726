/** Means over equal spans of time; spans without samples are left out. */
export function blockMeans(
  timeS: Float64Array,
  value: Float64Array,
  most: number,
): { timeS: Float64Array; valuePa: Float64Array } {
  if (timeS.length <= most) return { timeS, valuePa: value }
  const start = timeS[0]
  const span = timeS[timeS.length - 1] - start
  const sums = Array.from({ length: most }, () => ({ time: 0, value: 0, count: 0 }))
  for (let i = 0; i < timeS.length; i++) {
    const block = sums[Math.min(most - 1, Math.floor(((timeS[i] - start) / span) * most))]
    block.time += timeS[i]
    block.value += value[i]
    block.count++
  }
  const full = sums.filter((b) => b.count > 0)
  return {
    timeS: Float64Array.from(full, (b) => b.time / b.count),
    valuePa: Float64Array.from(full, (b) => b.value / b.count),
  }
}
