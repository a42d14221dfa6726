import type { Signal } from '@preact/signals'
import { type ComponentChildren, Fragment } from 'preact'
import type { BudgetShare, WordedReason } from '#analysis/model/hold-result.ts'
import { budgetParts, budgetTitle } from '#analysis/reasons/bench-words.ts'
import { phrase } from '#analysis/reasons/phrase.ts'
import { displayUnits } from '../settings.ts'
import type { Answer } from './use-answer.ts'

type Fact = readonly [what: string, words: ComponentChildren]

/** Facts with their names; a false entry is omitted. */
export const Facts = ({
  of,
  look = '',
}: {
  of: readonly (Fact | false | null | undefined | '')[]
  look?: string
}) => (
  <dl class={`facts ${look}`}>
    {of.map(
      (fact) =>
        fact && (
          <Fragment key={fact[0]}>
            <dt>{fact[0]}</dt>
            <dd>{fact[1]}</dd>
          </Fragment>
        ),
    )}
  </dl>
)

/** The reasons of a verdict, in the reader's units. */
export const Reasons = ({ of, withCode }: { of: readonly WordedReason[]; withCode?: boolean }) => (
  <ul class="reasons stack tight">
    {of.map((one) => (
      <li key={one.code + one.message}>
        {phrase(one, displayUnits())} {withCode && <span class="small soft">{one.code}</span>}
      </li>
    ))}
  </ul>
)

/** The uncertainty budget of the interval as one bar, largest share first, and the first improvement. */
export function BudgetBar({ of }: { of: readonly BudgetShare[] | null | undefined }) {
  if (!of || of.length === 0) return null
  const { shares, improve } = budgetParts(of)
  const told = `${budgetTitle}: ${shares.map(({ words }) => words).join(', ')}`
  let from = 0
  return (
    <div class="budget">
      <svg viewBox="0 0 100 4" preserveAspectRatio="none" role="img" aria-label={told}>
        {shares.map(({ share, words }, i) => {
          const x = from
          from += 100 * share
          return (
            <rect
              key={words}
              x={x}
              width={Math.max(0.5, 100 * share - 0.4)}
              height="4"
              opacity={1 / (1 + i / 2)}
            >
              <title>{words}</title>
            </rect>
          )
        })}
      </svg>
      <p class="small soft">{told}.</p>
      <p class="small">
        <strong>Improve first:</strong> {improve}.
      </p>
    </div>
  )
}

/** Sentences to heed, each in a note of its own. */
export const Notes = ({ of, state = 'undecided' }: { of: readonly string[]; state?: string }) => (
  <>
    {of.map((one) => (
      <p key={one} class={`note is-${state}`}>
        {one}
      </p>
    ))}
  </>
)

/** What the server refused, one sentence each. */
export const Errors = ({ of }: { of: readonly string[] }) => (
  <div role="status">
    <Notes of={of} state="failed" />
  </div>
)

/** Error of a form's last request. */
export const Trouble = ({ of }: { of: Signal<string | null> }) =>
  of.value && (
    <p class="note is-failed" role="alert">
      {of.value}
    </p>
  )

/** Placeholder for a missing answer: the error, or a sentence while it loads. */
export function Pending({ of: { value, error }, words }: { of: Answer<unknown>; words?: string }) {
  if (error !== null) return <p class="note is-undecided">{error}</p>
  return value === null && words !== undefined ? <p class="soft">{words}</p> : null
}
