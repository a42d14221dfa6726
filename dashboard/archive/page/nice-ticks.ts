/** Round tick values (spaced by 1, 2 or 5 times a power of ten) within a range, about `count` of them. */
export function niceTicks(low: number, high: number, count: number): { values: number[]; decimals: number } {
  const span = high - low
  if (!(span > 0)) return { values: [low], decimals: 0 }
  const rough = span / count
  const power = 10 ** Math.floor(Math.log10(rough))
  const step = power * ([1, 2, 5, 10].find((factor) => factor * power >= rough * 0.999) ?? 10)
  const values: number[] = []
  for (let i = Math.ceil(low / step - 1e-9); i * step <= high + step * 1e-9; i++) values.push(i * step)
  return { values, decimals: Math.max(0, -Math.floor(Math.log10(step) + 1e-9)) }
}
