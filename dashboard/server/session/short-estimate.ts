import type { Estimate } from '#analysis/model/hold-result.ts'

/** Digits that a chart can show and more. */
const digits = 6

/**
 * An estimate as the page draws it, in fewer digits. The bounds go outwards, so that a shortened interval never seems
 * to lie on one side of an allowance where the whole one does not.
 */
export function shortEstimate({ value, low, high }: Estimate): Estimate {
  return { value: Number(value.toPrecision(digits)), low: -atLeast(-low), high: atLeast(high) }
}

function atLeast(value: number): number {
  const near = Number(value.toPrecision(digits))
  if (!(near < value)) return near
  const step = 10 ** (Math.floor(Math.log10(Math.abs(value))) + 1 - digits)
  return Number((near + step).toPrecision(digits))
}
