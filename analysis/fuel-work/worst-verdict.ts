import { type Verdict, verdictsWorstFirst, type WordedReason } from '#analysis/model/hold-result.ts'

/** A reason and what it makes of the verdict; null for one that only tells. */
export interface WeighedReason extends WordedReason {
  readonly weight: Verdict | null
}

/** The worst that any reason asks for; without any it passes. */
export function worstVerdict(reasons: readonly WeighedReason[]): Verdict {
  return verdictsWorstFirst.find((verdict) => reasons.some(({ weight }) => weight === verdict)) ?? 'pass'
}

/** As published: the code and the sentence, what decides first. */
export function publishedReasons(reasons: readonly WeighedReason[]): WordedReason[] {
  const rank = ({ weight }: WeighedReason) => (weight === null ? 9 : verdictsWorstFirst.indexOf(weight))
  return [...reasons].sort((a, b) => rank(a) - rank(b)).map(({ code, message }) => ({ code, message }))
}
