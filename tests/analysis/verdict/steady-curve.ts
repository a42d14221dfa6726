import type { Mark } from '#analysis/model/samples.ts'
import type { SteadyCurve } from '#analysis/verdict/find-events.ts'

/** Uniform numbers in [0, 1): mulberry32 (public domain). */
function seededRandom(seed: number): () => number {
  let state = seed >>> 0
  return () => {
    state = (state + 0x6d2b79f5) >>> 0
    let t = state
    t = Math.imul(t ^ (t >>> 15), t | 1)
    t ^= t + Math.imul(t ^ (t >>> 7), t | 61)
    return ((t ^ (t >>> 14)) >>> 0) / 4294967296
  }
}

/** A standard normal number, after Box & Muller 1958. */
function normalDraw(random: () => number): number {
  return Math.sqrt(-2 * Math.log(1 - random())) * Math.cos(2 * Math.PI * random())
}

export const startNs = '1767225600000000000'
export const leakPerPa = 1.5e-7

interface Noise {
  readonly whitePa: number
  readonly walkPa: number
  readonly correlation: number
}

/** A hold of ten minutes, one reading in two seconds, losing 0.5 Pa/s; made up, seeded. */
export function curve(seed: number, noise: Noise, shape: (t: number) => number = () => 0): SteadyCurve {
  const random = seededRandom(seed)
  const count = 300
  const timeS = new Float64Array(count)
  const compensatedPa = new Float64Array(count)
  let walk = 0
  let memory = 0
  for (let i = 0; i < count; i++) {
    timeS[i] = 200 + 2 * i
    walk += noise.walkPa * normalDraw(random)
    memory = noise.correlation * memory + noise.whitePa * normalDraw(random)
    compensatedPa[i] = 68000 - 0.5 * (2 * i) + shape(2 * i) + walk + memory
  }
  return { section: 'left-feed', timeS, compensatedPa, leakPerPa, leakUnit: 'mol_per_s' }
}

export function mark(kind: Mark['kind'], id: string | null, atS: number): Mark {
  const timeNs = String(BigInt(startNs) + BigInt(atS) * 1_000_000_000n)
  return { timeNs, timeS: atS, kind, id, hold: null, fields: {} }
}
