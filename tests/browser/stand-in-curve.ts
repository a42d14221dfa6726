import type { LeakLook } from '#dashboard/api.ts'

const psi = 6894.757293
export const allowanceDropPa = 0.1 * psi
export const stages = { pumpUpS: 60, settleS: 110, holdS: 230, lengthS: 600 } as const

/** A repeatable stand-in for noise: not physics, only something to draw. */
export const ripple = (i: number): number => {
  const x = Math.sin(i * 12.9898) * 43_758.5453
  return (x - Math.floor(x) - 0.5) * 2
}

/** Readings at bench time `s` of a hold that loses `dropPa` in its planned time. */
export function readingsAt(
  s: number,
  dropPa: number,
  lengthS: number = stages.lengthS,
): Record<string, number> {
  const temperatureK = 291.3 + 0.5 * Math.sin(s / 240) + 0.004 * ripple(s * 7)
  const rise = Math.min(1, Math.max(0, (s - stages.pumpUpS) / (stages.settleS - stages.pumpUpS)))
  const cooling = s > stages.settleS ? 0.035 * (Math.exp(-(s - stages.settleS) / 35) - 1) : 0
  const leak = s > stages.holdS ? (dropPa * (s - stages.holdS)) / lengthS : 0
  const pressurePa =
    10.35 * psi * rise * (1 + cooling) -
    leak +
    (rise === 1 ? (temperatureK - 291.3) * 560 : 0) +
    22 * ripple(s * 10)
  return {
    'p-left': pressurePa,
    // Loses three times the allowance, and was pumped up a little higher.
    'p-right':
      1.03 * pressurePa - (s > stages.holdS ? 3 * allowanceDropPa * (s - stages.holdS) : 0) / lengthS,
    't-left': temperatureK,
    baro: 101_180 + 30 * Math.sin(s / 700) + 2 * ripple(s * 3),
  }
}

/** Interval of the leak after `atS` seconds of hold. */
export function lookAt(atS: number, dropPa: number): LeakLook {
  const half = allowanceDropPa * 26 * (10 / (atS + 6)) ** 1.25
  const value = dropPa + half * 0.32 * Math.sin(atS / 47)
  return { atS, dropPa: { value, low: value - half, high: value + half } }
}

/** A look at a hold of two sections: the right one loses three times the allowance more. */
export function lookAtBoth(atS: number, dropPa: number): LeakLook {
  const left = lookAt(atS, dropPa).dropPa
  const right = lookAt(atS, dropPa + 3 * allowanceDropPa).dropPa
  return { atS, dropPa: right, sections: { 'left-feed': left, 'right-feed': right } }
}
