/** A day of one channel at 100 Hz, or a part of it, as typed columns. */
export function dayColumns(count: number): { readonly timeS: Float64Array; readonly values: Float64Array } {
  return {
    timeS: Float64Array.from({ length: count }, (_, k) => k / 100),
    values: Float64Array.from({ length: count }, (_, k) => Math.sin(k / 1e5) + ((k * 7919) % 1000) / 1e4),
  }
}
