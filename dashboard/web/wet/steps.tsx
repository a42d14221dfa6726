import { useSignal } from '@preact/signals'
import type { WetStage } from '#analysis/fuel-work/wet-stages.ts'
import type { SavedSheet } from '#dashboard/api.ts'

/** The checklist of a stage, and what is omitted with its reason; a safety step cannot be omitted. */
export function Steps(props: {
  readonly stage: WetStage
  readonly earlier: readonly WetStage[]
  readonly done: readonly number[]
  readonly omitted: SavedSheet['sheet']['omitted']
  readonly off: boolean
  readonly enter: (entry: object) => void
}) {
  const { stage, earlier, done, omitted, off, enter } = props
  return (
    <>
      <ul aria-label="Steps">
        {stage.steps.map(({ text, safety }, i) => {
          const why = omitted.find(({ step }) => step === i + 1)?.why
          return (
            <li key={text}>
              <label class="check">
                <input
                  type="checkbox"
                  disabled={off}
                  checked={done.includes(i + 1)}
                  onChange={(event) =>
                    enter({ kind: 'step', step: i + 1, done: event.currentTarget.checked })
                  }
                />
                <span>
                  {safety && <strong>Safety: </strong>}
                  {text}
                </span>
              </label>
              {!safety && !done.includes(i + 1) && (
                <Omit
                  what={`step ${i + 1}`}
                  why={why}
                  off={off}
                  onWhy={(text) => enter({ kind: 'omit', step: i + 1, why: text })}
                />
              )}
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
                {title}{' '}
                <Omit
                  what={title}
                  why={omitted.find((one) => one.stage === name)?.why}
                  off={off}
                  onWhy={(text) => enter({ kind: 'omit', stage: name, why: text })}
                />
              </li>
            ))}
          </ul>
        </details>
      )}
    </>
  )
}

/** An omission with its reason; without one it cannot be saved. */
export function Omit(props: {
  readonly what: string
  readonly why: string | undefined
  readonly off: boolean
  readonly onWhy: (why: string) => void
}) {
  const text = useSignal('')
  if (props.why !== undefined)
    return (
      <span class="small">
        omitted: {props.why}{' '}
        <button type="button" class="quiet" disabled={props.off} onClick={() => props.onWhy('')}>
          Take back
        </button>
      </span>
    )
  return (
    <details class="small">
      <summary>Omit {props.what}</summary>
      <label class="field">
        <span>Reason to omit {props.what}</span>
        <input value={text.value} onInput={(event) => (text.value = event.currentTarget.value)} />
      </label>
      <button
        type="button"
        disabled={props.off || text.value.trim() === ''}
        onClick={() => props.onWhy(text.value)}
      >
        Save the reason
      </button>
    </details>
  )
}
