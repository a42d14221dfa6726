import type { ComponentChildren, JSX } from 'preact'
import { useId } from 'preact/hooks'

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

/** Lens on whether a list has a value; the values are in the order in which they came. */
export const memberOf = <T,>(list: Entry<readonly T[]>, one: T): Entry<boolean> =>
  entry(list.value.includes(one), (isIn) => {
    const rest = list.value.filter((other) => other !== one)
    list.value = isIn ? [...rest, one] : rest
  })

/** A value and its displayed words. */
export type Option = readonly [value: string, word: string]

/** Options whose displayed word is the value. */
export const asOptions = (words: readonly string[]): Option[] => words.map((one) => [one, one])

/** Handles the submit of a form: the page stays. */
export const onSubmit = (send: () => unknown) => (event: Event) => {
  event.preventDefault()
  send()
}

interface FieldProps {
  readonly label: string
  readonly of: Entry
  /** A choice among these instead of a typed text. */
  readonly options?: readonly Option[]
  readonly about?: string
  readonly type?: 'text' | 'search' | 'date' | 'datetime-local'
  readonly inputMode?: 'decimal'
  readonly maxLength?: number
  readonly required?: boolean
  readonly spellcheck?: boolean
  readonly placeholder?: string
}

/** One entry of a form: typed, or chosen from a list. */
export function Field({ label, of, options, about, type = 'text', ...attributes }: FieldProps) {
  const id = useId()
  const control = {
    id,
    value: of.value,
    'aria-describedby': about && `${id}-why`,
    onInput: (event: { readonly currentTarget: { readonly value: string } }) => {
      of.value = event.currentTarget.value
    },
  }
  const box = options ? (
    <select {...control}>
      {options.map(([value, word]) => (
        <option key={value} value={value}>
          {word}
        </option>
      ))}
    </select>
  ) : (
    <input {...attributes} {...control} type={type as 'text'} autocomplete="off" />
  )
  // The label around its box is the larger target of a tap; a description beside it is no part of its name.
  if (!about)
    return (
      <label class="field" for={id}>
        <span>{label}</span>
        {box}
      </label>
    )
  return (
    <div class="field">
      <label for={id}>{label}</label>
      {box}
      <small id={`${id}-why`}>{about}</small>
    </div>
  )
}

/** Picks files of this device. */
export function FileField(props: {
  readonly label: string
  readonly accept?: string
  readonly multiple?: boolean
  readonly onPick: (files: readonly File[]) => unknown
}) {
  const { label, onPick, ...attributes } = props
  return (
    <label class="field">
      <span>{label}</span>
      <input
        {...attributes}
        type="file"
        onChange={(event) => onPick([...(event.currentTarget.files ?? [])])}
      />
    </label>
  )
}

/** A box to tick, with its words. */
export function Check(props: {
  readonly of: Entry<boolean>
  readonly disabled?: boolean
  readonly children: ComponentChildren
}) {
  const { of, disabled, children } = props
  return (
    <label class="check">
      <input
        type="checkbox"
        checked={of.value}
        disabled={disabled}
        onChange={(event) => {
          of.value = event.currentTarget.checked
        }}
      />
      {children}
    </label>
  )
}

/** Multiple choice. */
export function Ticks(props: {
  readonly legend: string
  readonly of: Entry<readonly string[]>
  readonly options: readonly (readonly [value: string, words: ComponentChildren])[]
  readonly about?: string
  readonly class?: string
}) {
  const { legend, of, options, about, class: look = 'field' } = props
  const id = useId()
  return (
    <fieldset class={look} aria-describedby={about && id}>
      <legend>{legend}</legend>
      {options.map(([value, words]) => (
        <Check key={value} of={memberOf(of, value)}>
          {words}
        </Check>
      ))}
      {about && <small id={id}>{about}</small>}
    </fieldset>
  )
}

/** Single choice with all options visible; a value without a pair is its own label. */
export function Segmented<T extends string>(props: {
  readonly legend: string
  readonly options: readonly (T | readonly [value: T, word: string])[]
  readonly of: Entry<T>
  readonly quietLegend?: boolean
}) {
  const { legend, options, of, quietLegend } = props
  const name = legend.replace(/\W+/g, '-')
  return (
    <fieldset class="segmented">
      <legend class={quietLegend ? 'unseen' : ''}>{legend}</legend>
      <div class="segments row">
        {options
          .map((one) => (typeof one === 'string' ? ([one, one] as const) : one))
          .map(([value, word]) => (
            <label key={value} class={value === of.value ? 'is-picked' : ''}>
              <input
                type="radio"
                name={name}
                value={value}
                checked={value === of.value}
                onChange={() => {
                  of.value = value
                }}
              />
              {word}
            </label>
          ))}
      </div>
    </fieldset>
  )
}

/** A button that submits no form. */
export const Button = (props: JSX.IntrinsicElements['button']) => <button type="button" {...props} />
