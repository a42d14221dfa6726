import type { JSX } from 'preact'

/** Storage of an entry: a signal, or one part of a signal that contains a whole form. */
export interface Entry<T = string> {
  value: T
}

export const entry = <T,>(now: T, set: (value: T) => void): Entry<T> => ({
  get value() {
    return now
  },
  set value(value) {
    set(value)
  },
})

/** Lens on one part of a form in one signal. */
export const partOf = <F extends object, K extends keyof F>(form: Entry<F>, key: K): Entry<F[K]> =>
  entry(form.value[key], (value) => {
    form.value = { ...form.value, [key]: value }
  })

interface FieldProps {
  readonly label: string
  readonly of: Entry
  readonly type?: 'text' | 'search' | 'date' | 'datetime-local'
  readonly inputMode?: 'decimal'
  readonly maxLength?: number
  readonly required?: boolean
  readonly placeholder?: string
}

export function Field({ label, of, type = 'text', ...attributes }: FieldProps) {
  return (
    <label class="field">
      <span>{label}</span>
      <input
        {...attributes}
        type={type as 'text'}
        autocomplete="off"
        value={of.value}
        onInput={(event) => {
          of.value = event.currentTarget.value
        }}
      />
    </label>
  )
}

/** A value and its displayed words. */
export type Option = readonly [value: string, word: string]

/** Options whose displayed word is the value. */
export const asOptions = (words: readonly string[]): Option[] => words.map((one) => [one, one])

export function Choice(props: {
  readonly label: string
  readonly of: Entry
  readonly options: readonly Option[]
}) {
  const { label, of, options } = props
  return (
    <label class="field">
      <span>{label}</span>
      <select
        value={of.value}
        onChange={(event) => {
          of.value = event.currentTarget.value
        }}
      >
        {options.map(([value, word]) => (
          <option key={value} value={value}>
            {word}
          </option>
        ))}
      </select>
    </label>
  )
}

/** Multiple choice; the values are in the order of the ticks. */
export function Ticks(props: {
  readonly legend: string
  readonly class?: string
  readonly of: Entry<readonly string[]>
  readonly options: readonly { readonly value: string; readonly words: JSX.Element | string }[]
}) {
  const { of } = props
  return (
    <fieldset class={props.class}>
      <legend>{props.legend}</legend>
      {props.options.map(({ value, words }) => (
        <label key={value} class="check">
          <input
            type="checkbox"
            checked={of.value.includes(value)}
            onChange={(event) => {
              const rest = of.value.filter((one) => one !== value)
              of.value = event.currentTarget.checked ? [...rest, value] : rest
            }}
          />
          {words}
        </label>
      ))}
    </fieldset>
  )
}
