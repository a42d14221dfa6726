import { type Signal, useSignal } from '@preact/signals'
import type { ComponentChildren } from 'preact'
import type { Verdict, WordedReason } from '#analysis/model/hold-result.ts'
import { phrase } from '#analysis/reasons/phrase.ts'
import { post } from '../api-client.ts'
import { mayOperate } from '../live/bench.ts'
import { StateWord } from '../parts/state-mark.tsx'
import { toast } from '../parts/toast.tsx'
import { address } from '../route.ts'
import { displayUnits } from '../settings.ts'
import { verdictWords } from '../words.ts'
import type { Photo } from './photo-field.tsx'

interface Judged {
  readonly verdict: Verdict
  readonly reasons: readonly WordedReason[]
}

/** Judge first, then sign and lock: nothing goes into the archive unseen. */
export function Judge<T extends Judged>(props: {
  readonly path: string
  readonly sheet: () => object
  readonly photos?: readonly Photo[]
  readonly recordings?: readonly { readonly name: string; readonly text: string }[]
  readonly found: Signal<readonly T[]>
  readonly children?: (result: T) => ComponentChildren
}) {
  const wrong = useSignal<string | null>(null)
  const judged = useSignal('')
  const records = useSignal<readonly string[]>([])
  const operator = useSignal('')
  const current = JSON.stringify(props.sheet())
  const ask = async (seal: boolean) => {
    try {
      const { photos = [], recordings = [] } = props
      const body = { sheet: props.sheet(), seal, operator: operator.value, photos, recordings }
      const answer = await post<{ results: T[]; records: string[] }>(props.path, body)
      props.found.value = answer.results
      judged.value = current
      records.value = answer.records
      wrong.value = null
      if (seal) toast(`Signed and locked as ${answer.records.join(', ')}.`)
    } catch (error) {
      wrong.value = error instanceof Error ? error.message : String(error)
    }
  }
  return (
    <div class="stack wet-judge">
      <div class="row">
        <button type="button" class="main" disabled={!mayOperate.value} onClick={() => ask(false)}>
          Judge
        </button>
        <label class="field">
          <span>Initials or name</span>
          <input value={operator.value} onInput={(event) => (operator.value = event.currentTarget.value)} />
        </label>
        <button
          type="button"
          disabled={!mayOperate.value || judged.value !== current || records.value.length > 0}
          onClick={() => ask(true)}
        >
          Sign and lock into the archive
        </button>
      </div>
      {wrong.value && <p class="note is-undecided">{wrong.value}</p>}
      {props.found.value.map((result, i) => (
        <section key={i} class={`panel stack is-${result.verdict}`} aria-label="Result">
          <h3>
            <StateWord state={result.verdict} word={verdictWords[result.verdict].word} />
            {records.value[i] && (
              <>
                {' '}
                <a href={address('records', records.value[i])}>{records.value[i]}</a>
              </>
            )}
          </h3>
          <ul>
            {result.reasons.map((one) => (
              <li key={one.message}>{phrase(one, displayUnits())}</li>
            ))}
          </ul>
          {props.children?.(result)}
        </section>
      ))}
    </div>
  )
}

interface FieldProps {
  readonly label: string
  readonly value: string
  readonly onInput: (value: string) => void
}

export function Field(props: FieldProps) {
  return (
    <label class="field">
      <span>{props.label}</span>
      <input value={props.value} onInput={(event) => props.onInput(event.currentTarget.value)} />
    </label>
  )
}

/** A day, or a day with its time, as the browser lets one pick it. */
export function TimeField(props: FieldProps & { readonly type: 'date' | 'datetime-local' }) {
  return (
    <label class="field">
      <span>{props.label}</span>
      <input
        type={props.type}
        value={props.value}
        onInput={(event) => props.onInput(event.currentTarget.value)}
      />
    </label>
  )
}

export function Choice(props: {
  readonly label: string
  readonly value: string
  readonly options: readonly (readonly [value: string, word: string])[]
  readonly onPick: (value: string) => void
}) {
  return (
    <label class="field">
      <span>{props.label}</span>
      <select value={props.value} onChange={(event) => props.onPick(event.currentTarget.value)}>
        {props.options.map(([value, word]) => (
          <option key={value} value={value}>
            {word}
          </option>
        ))}
      </select>
    </label>
  )
}

/** Entries left empty are not stated, which is not the same as zero. */
export const stated = (entries: Readonly<Record<string, unknown>>): Record<string, unknown> =>
  Object.fromEntries(Object.entries(entries).filter(([, value]) => value !== '' && value !== null))

export const numberOrNull = (text: string): number | null =>
  text.trim() === '' || !Number.isFinite(Number(text)) ? null : Number(text)

/** A moment as a field of the page holds it, in the bench's own zone. */
export const localMoment = (at: Date): string =>
  new Date(at.getTime() - at.getTimezoneOffset() * 60_000).toISOString().slice(0, 16)
