import type { HoldResult } from '#analysis/model/hold-result.ts'

const kinds = { 'known-leak': 'known leak', 'known-volume': 'known volume' } as const

/** What proved the bench of a hold, in words: the check and the supply. Records of version 0.1 carry neither. */
export function benchWords({ proof, supply }: Pick<HoldResult, 'proof' | 'supply'>): string {
  const off =
    supply === 'off'
      ? 'the supply was taken off'
      : supply === 'looked-at'
        ? 'a look before pump-up showed the supply shut'
        : 'nothing proves the supply shut'
  return `${provenWords(proof)}; ${off}`
}

/** `proven by a known leak (K1, 97 to 104 % of it seen)`, or why not. */
export function provenWords(proof: HoldResult['proof']): string {
  if (proof == null) return 'not proven by a known leak or volume'
  const { kind, check, found, expected, proven } = proof
  const seen =
    found === null
      ? 'too few readings'
      : `${Math.round((100 * found.low) / expected)} to ${Math.round((100 * found.high) / expected)} % of it seen`
  return proven
    ? `proven by a ${kinds[kind]} (${check}, ${seen})`
    : `not proven by the ${kinds[kind]} ${check} (${seen})`
}
