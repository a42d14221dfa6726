/** A seeded random stream: the same seed gives the same hold on every machine. */
export interface Random {
  /** Uniform on [low, high). */
  uniform(low: number, high: number): number
  /** Normal with mean 0 and standard deviation 1. */
  normal(): number
  /** True with the given probability. */
  chance(probability: number): boolean
  pick<T>(from: readonly T[]): T
}

/**
 * Seeded generator: sfc32 (128 bits of state, passes PractRand), seeded through splitmix32; normals by the
 * polar method. Not for secrets.
 */
export function seededRandom(seed: number, stream = 0): Random {
  let mix = (Math.imul(seed | 0, 0x9e3779b1) ^ Math.imul(stream | 0, 0x85ebca6b)) | 0
  const split = (): number => {
    mix = (mix + 0x9e3779b9) | 0
    let z = mix ^ (mix >>> 16)
    z = Math.imul(z, 0x21f0aaad)
    z ^= z >>> 15
    z = Math.imul(z, 0x735a2d97)
    return z ^ (z >>> 15)
  }
  let a = split()
  let b = split()
  let c = split()
  let counter = 1
  const next = (): number => {
    const t = (((a + b) | 0) + counter) | 0
    counter = (counter + 1) | 0
    a = b ^ (b >>> 9)
    b = (c + (c << 3)) | 0
    c = (c << 21) | (c >>> 11)
    c = (c + t) | 0
    return (t >>> 0) / 4294967296
  }
  for (let i = 0; i < 12; i++) next()
  let spare: number | null = null
  const random: Random = {
    uniform: (low, high) => low + (high - low) * next(),
    normal: () => {
      if (spare !== null) {
        const kept = spare
        spare = null
        return kept
      }
      for (;;) {
        const x = 2 * next() - 1
        const y = 2 * next() - 1
        const s = x * x + y * y
        if (s === 0 || s >= 1) continue
        const factor = Math.sqrt((-2 * Math.log(s)) / s)
        spare = y * factor
        return x * factor
      }
    },
    chance: (probability) => next() < probability,
    pick: (from) => from[Math.floor(next() * from.length)]!,
  }
  return random
}
