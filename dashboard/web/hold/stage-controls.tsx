import { useSignal } from '@preact/signals'
import { useRef } from 'preact/hooks'
import type { LiveState, RunningHold } from '#dashboard/api.ts'
import { post } from '../api-client.ts'
import { inUnits } from '../in-units.ts'
import { take } from '../live/bench.ts'
import { toastError } from '../parts/toast.tsx'

const steps = {
  'pump-up': { to: 'settle', word: 'At pressure: settle', hint: 'Close the supply, then settle.' },
  settle: { to: 'hold', word: 'Start the hold', hint: 'Hands off: doors shut, nobody touches the wing.' },
  hold: {
    to: 'vent',
    word: 'End the hold and vent',
    hint: 'Open the vent slowly; the gauge must be seen to go to zero.',
  },
  vent: {
    to: 'end',
    word: 'Vented: seal the record',
    hint: 'Keep the gauge on until it stands at zero. Then take out every plug that went in.',
  },
} as const

/** A tap so soon after the one before belongs to it: the next step comes under the same finger, [ms]. */
const oneTapMs = 1000

/** The one next step in front, giving up beside it. */
export function StageControls({ hold, suction }: { hold: RunningHold; suction: boolean }) {
  const busy = useSignal(false)
  const tappedAtMs = useRef(Number.NEGATIVE_INFINITY)
  const giveUp = useRef<HTMLDialogElement>(null)
  const early = useRef<HTMLDialogElement>(null)
  const step = hold.stage === 'idle' ? null : steps[hold.stage]

  const enter = async (stage: string): Promise<void> => {
    busy.value = true
    tappedAtMs.current = performance.now()
    try {
      take(await post<LiveState>('/api/hold/stage', { stage }))
    } catch (error) {
      toastError(error)
    } finally {
      busy.value = false
    }
  }
  // A void hold is decided too: going on mends nothing.
  const decided = hold.verdict !== null && hold.verdict !== 'undecided'
  // What would be too early is there, and not in front.
  const ready = hold.stage === 'settle' ? hold.settled?.ready !== false : hold.stage !== 'hold' || decided
  const wait =
    hold.stage === 'settle' && hold.settled
      ? inUnits(hold.settled.message)
      : hold.stage === 'hold' && !decided
        ? steps.settle.hint
        : suction && hold.stage === 'pump-up'
          ? 'Close the valve to the pump, then settle.'
          : (step?.hint ?? null)

  return (
    <section class="stage-controls" aria-label="Next step">
      <div class="row">
        {step && (
          <button
            type="button"
            class={`large ${ready ? 'main' : ''}`}
            // Not disabled: that would take the focus away, and the next step comes under the same key.
            aria-disabled={busy.value}
            onClick={() => {
              const again = performance.now() - tappedAtMs.current < oneTapMs
              tappedAtMs.current = performance.now()
              if (busy.value || again) return
              if (hold.stage === 'hold' && !decided) early.current?.showModal()
              else void enter(step.to)
            }}
          >
            {suction && hold.stage === 'pump-up' ? 'Drawn down: settle' : step.word}
          </button>
        )}
        {hold.stage !== 'vent' && (
          <button type="button" class="quiet" onClick={() => giveUp.current?.showModal()}>
            Give this hold up
          </button>
        )}
      </div>
      {wait && <p class="soft">{wait}</p>}
      <dialog ref={early} aria-labelledby="early-title">
        <form method="dialog" class="stack">
          <h2 id="early-title">End it undecided?</h2>
          <p>The data cannot tell yet. Ended now, the record will most likely say undecided.</p>
          <div class="row">
            <button type="submit" class="main">
              Go on holding
            </button>
            <button
              type="button"
              onClick={() => {
                early.current?.close()
                void enter('vent')
              }}
            >
              End and vent
            </button>
          </div>
        </form>
      </dialog>
      <dialog ref={giveUp} aria-labelledby="give-up-title">
        <form method="dialog" class="stack">
          <h2 id="give-up-title">Give this hold up?</h2>
          <p>
            Vent the section first. What was recorded stays in the recording and the record says that the hold
            was ended.
          </p>
          <div class="row">
            <button type="submit" class="main">
              Go on
            </button>
            <button
              type="button"
              class="danger"
              onClick={() => {
                giveUp.current?.close()
                void enter('end')
              }}
            >
              Give it up
            </button>
          </div>
        </form>
      </dialog>
    </section>
  )
}
