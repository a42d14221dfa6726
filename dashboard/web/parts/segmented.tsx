/** A choice of one among a few, all in sight. */
export function Segmented<T extends string>(props: {
  readonly legend: string
  readonly options: readonly { readonly value: T; readonly word: string }[]
  readonly value: T
  readonly onPick: (value: T) => void
  readonly quietLegend?: boolean
}) {
  const name = props.legend.replace(/\W+/g, '-')
  return (
    <fieldset class="segmented">
      <legend class={props.quietLegend ? 'unseen' : ''}>{props.legend}</legend>
      <div class="segments">
        {props.options.map((one) => (
          <label key={one.value} class={one.value === props.value ? 'is-picked' : ''}>
            <input
              type="radio"
              name={name}
              value={one.value}
              checked={one.value === props.value}
              onChange={() => props.onPick(one.value)}
            />
            {one.word}
          </label>
        ))}
      </div>
    </fieldset>
  )
}
