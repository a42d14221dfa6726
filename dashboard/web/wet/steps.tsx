import { useSignal } from '@preact/signals'
import type { WetStage } from '#analysis/fuel-work/wet-stages.ts'
import { t } from '#analysis/reasons/language.ts'
import { Field } from '../parts/fields.tsx'
import type { OnSheet } from './entries.ts'

/** The checklist of a stage, with omitted steps and their reasons; a safety step cannot be omitted. */
export function Steps(props: OnSheet & { readonly stage: WetStage; readonly earlier: readonly WetStage[] }) {
  const { stage, earlier, sheet, off, enter } = props
  return (
    <>
      <ul aria-label="Steps">
        {stage.steps.map(({ text, safety }, i) => {
          const step = i + 1
          const done = sheet.done.includes(step)
          return (
            <li key={text}>
              <label class="check">
                <input
                  type="checkbox"
                  disabled={off}
                  checked={done}
                  onChange={(event) => enter({ kind: 'step', step, done: event.currentTarget.checked })}
                />
                <span>
                  {safety && <strong>Safety: </strong>}
                  {text}
                </span>
              </label>
              {!safety && !done && <Omit {...props} what={t`step ${step}`} of={{ step }} />}
            </li>
          )
        })}
      </ul>
      {earlier.length > 0 && (
        <details>
          <summary>An earlier stage does not apply</summary>
          <ul>
            {earlier.map(({ name, title }) => (
              <li key={name}>
                {title} <Omit {...props} what={title} of={{ stage: name }} />
              </li>
            ))}
          </ul>
        </details>
      )}
    </>
  )
}

type Omitted = { readonly step: number } | { readonly stage: string } | { readonly fitting: string }

/** An omission with its reason. */
export function Omit({ what, of, sheet, off, enter }: OnSheet & { what: string; of: Omitted }) {
  const [[key, value]] = Object.entries(of)
  const omitted = sheet.omitted.find((one) => one[key as keyof typeof one] === value)
  const save = (why: string) => enter({ kind: 'omit', ...of, why })
  if (omitted)
    return (
      <span class="small">
        omitted: {omitted.why}{' '}
        <button type="button" class="quiet" disabled={off} onClick={() => save('')}>
          Take back
        </button>
      </span>
    )
  return (
    <WithReason
      title={t`Omit ${what}`}
      label={t`Reason to omit ${what}`}
      words="Save the reason"
      off={off}
      onWhy={save}
    />
  )
}

/** A form that cannot be saved without a reason. */
export function WithReason(props: {
  readonly title: string
  readonly label: string
  readonly words: string
  readonly off: boolean
  readonly onWhy: (why: string) => void
}) {
  const why = useSignal('')
  return (
    <details class="small">
      <summary>{props.title}</summary>
      <Field label={props.label} of={why} />
      <button
        type="button"
        disabled={props.off || why.value.trim() === ''}
        onClick={() => props.onWhy(why.value)}
      >
        {props.words}
      </button>
    </details>
  )
}
