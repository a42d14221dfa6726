import type { WouldPass } from '#analysis/verdict/pass-doubts.ts'

/** A hold of its stated 600 s at 10 psi that loses 0.1 of what is allowed. */
export const allowedPa = 690
export const statedS = 600
export const timeS = Float64Array.from({ length: 601 }, (_, i) => i)
export const steady = (value: number) => timeS.map(() => value)

export interface Curves {
  readonly gaugePa?: Float64Array
  readonly compensatedPa?: Float64Array
  readonly temperatureK?: Float64Array | null
  readonly barometricPa?: Float64Array | null
}

export function wouldPass(over: Partial<WouldPass> = {}, curves: Curves = {}): WouldPass {
  return {
    section: 'line',
    judged: { value: 0.1, low: 0, high: 0.2 },
    allowed: 1,
    allowedPa,
    events: [],
    startNs: '0',
    holdS: 0,
    statedS,
    suction: false,
    sort: 'line',
    coarse: false,
    allowedRate: 1,
    ...over,
    curves: {
      section: 'line',
      timeS,
      holdStartS: 0,
      leakLinePa: steady(0),
      gaugePa: steady(68_950),
      compensatedPa: steady(68_950),
      temperatureK: steady(293.15),
      barometricPa: steady(101_325),
      ...curves,
    },
  }
}
