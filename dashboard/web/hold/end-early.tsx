import { useSignal } from '@preact/signals'
import type { RefObject } from 'preact'
import { duration } from '#analysis/reasons/figures.ts'
import type { RunningHold } from '#dashboard/api.ts'

/** Reasons one taps with a glove; any other is typed. */
const usual = ['the verdict is decided', 'something disturbed the section', 'the aircraft is needed'] as const

interface Props {
  readonly box: RefObject<HTMLDialogElement | null>
  readonly hold: RunningHold
  readonly isDecided: boolean
  /** Part of the planned time that is still to come, [s]; 0 when it is over. */
  readonly leftS: number
  onEnd(reason?: string): void
}

/** The question before a hold ends too early: undecided, or before the time that a rule prescribes. */
export function EndEarly({ box, hold, isDecided, leftS, onEnd }: Props) {
  const other = useSignal('')
  const needsReason = hold.time !== 'until-decided' && leftS > 0
  const end = (reason?: string): void => {
    box.current?.close()
    onEnd(reason)
  }
  return (
    <dialog ref={box} aria-labelledby="early-title">
      <form method="dialog" class="stack">
        <h2 id="early-title">{isDecided ? 'End it before its time?' : 'End it undecided?'}</h2>
        {!isDecided && <p>The data cannot tell yet. Ended now, the record will most likely say undecided.</p>}
        {needsReason && (
          <p>
            {duration(leftS)} of the prescribed {duration(hold.stageLengthS ?? 0)} are left. The reason stands
            on page 1 of the test report.
          </p>
        )}
        <button type="submit" class="main large">
          Go on holding
        </button>
        {needsReason ? (
          <>
            {usual
              .filter((_, i) => isDecided || i > 0)
              .map((reason) => (
                <button key={reason} type="button" onClick={() => end(reason)}>
                  End: {reason}
                </button>
              ))}
            <label class="field">
              <span>Another reason</span>
              <input
                type="text"
                maxLength={200}
                autocomplete="off"
                value={other.value}
                onInput={(event) => {
                  other.value = event.currentTarget.value
                }}
              />
            </label>
            <button
              type="button"
              disabled={other.value.trim() === ''}
              onClick={() => end(other.value.trim())}
            >
              End for this reason
            </button>
          </>
        ) : (
          <button type="button" onClick={() => end()}>
            End and vent
          </button>
        )}
      </form>
    </dialog>
  )
}
