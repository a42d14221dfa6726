import type { Reason, ReasonValues, WordedReason } from '#analysis/model/hold-result.ts'
import { type DisplayUnits, figuresIn } from './figures.ts'
import { phrases, type ReasonCode, type ValuesOf } from './phrases.ts'

/** A reason of a known code with the values for its sentence. */
export function reason<C extends ReasonCode>(code: C, values: ValuesOf<C>): Reason {
  return { code, values: values as ReasonValues }
}

/**
 * The sentence of a reason in a reader's units. The command line, the page and the report use this one function.
 *
 * A reason with an unknown code, or from an old record without values, keeps its stored message.
 */
export function phrase(given: Reason | WordedReason, units: DisplayUnits): string {
  const words = Object.hasOwn(phrases, given.code)
    ? (phrases[given.code as ReasonCode] as (values: ReasonValues, figures: unknown) => string)
    : undefined
  if (words === undefined || given.values === undefined)
    return 'message' in given ? given.message : given.code
  return words(given.values, figuresIn(units))
}

/** Reasons with their sentences, as in `analyze --json` and in a record. */
export function worded(reasons: readonly Reason[], units: DisplayUnits): WordedReason[] {
  return reasons.map(({ code, values }) => ({ code, values, message: phrase({ code, values }, units) }))
}
