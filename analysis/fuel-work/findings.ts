import { type Verdict, verdictsWorstFirst, type WordedReason } from '#analysis/model/hold-result.ts'

/** A reason and its effect on the verdict; null for information only. */
export interface WeighedReason extends WordedReason {
  readonly weight: Verdict | null
}

/** Sentences by weight and code. Braces mark a value that the sentence needs. */
type Sentences = Readonly<Partial<Record<Verdict | 'note', Readonly<Record<string, string>>>>>
type CodeOf<Group> = Group extends unknown ? keyof Group & string : never
type SentenceOf<Group, Code extends string> = Code extends unknown
  ? Group extends Readonly<Record<Code, infer S>>
    ? S
    : never
  : never
type Named<S> = S extends `${string}{${infer Name}}${infer Rest}` ? Name | Named<Rest> : never
type Given<Name extends string> = [Name] extends [never]
  ? []
  : [values: Readonly<Record<Name, string | number | readonly (string | number)[]>>]

/**
 * Possible findings of one kind of work: `say(code, values)` returns its reason, as a list of one to join with others.
 *
 * @param sentences the table that weighs and words every code; a code of two weights is listed under its first
 */
export function findings<const T extends Sentences>(sentences: T) {
  type Group = NonNullable<T[keyof T]>
  const known = new Map(
    Object.entries(sentences).flatMap(([weight, group]) =>
      Object.entries(group).map(([code, sentence]) => [code, { weight, sentence }] as const),
    ),
  )
  const say = <C extends CodeOf<Group>>(code: C, ...[values]: Given<Named<SentenceOf<Group, C>>>) => {
    const { weight, sentence } = known.get(code)!
    const words: Readonly<Record<string, unknown>> = values ?? {}
    const message = sentence.replaceAll(/\{(\w+)\}/g, (_, name) => [words[name]].flat().join(', '))
    return [{ code, message, weight: weight === 'note' ? null : (weight as Verdict) }] as WeighedReason[]
  }
  return say
}

/** The verdict is the worst weight of any reason; published reasons begin with the deciding one. */
export function judged(reasons: readonly WeighedReason[]): {
  readonly verdict: Verdict
  readonly reasons: readonly WordedReason[]
} {
  const rank = ({ weight }: WeighedReason) => (weight === null ? 9 : verdictsWorstFirst.indexOf(weight))
  const sorted = [...reasons].sort((a, b) => rank(a) - rank(b))
  return {
    verdict: sorted[0]?.weight ?? 'pass',
    reasons: sorted.map(({ code, message }) => ({ code, message })),
  }
}
