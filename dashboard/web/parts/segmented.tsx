import type { Entry } from './fields.tsx'

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
      <div class="segments">
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
