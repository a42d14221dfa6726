import type { RunningHold } from '#dashboard/api.ts'
import { bench } from '../live/bench.ts'
import { sendMark } from '../marks/send-mark.ts'
import { clock } from '../quantity.ts'

/** A look at the supply must last this long to count, [s]. */
const lookForS = 60

/** Taking the hose off proves that nothing comes in from the supply. */
export function SupplyStep({ hold }: { hold: RunningHold }) {
  const done = (bench.value?.marks ?? []).some(
    ({ kind, text, timeS }) => kind === 'supply' && text === 'supply off' && timeS >= (hold.pumpUpS ?? 0),
  )
  return done ? (
    <p class="soft">Marked: the hose is off and the port is plugged.</p>
  ) : (
    <button
      type="button"
      onClick={() => void sendMark({ kind: 'supply', fields: { name: 'off' } }, 'hose off, port plugged')}
    >
      Hose off, port plugged
    </button>
  )
}

/** The other proof, before the pump-up: the section closed without pressure, the supply on behind its shut cock. */
export function SupplyLook() {
  const look = (bench.value?.marks ?? []).findLast(
    ({ kind, text }) => kind === 'supply' && text === 'supply look',
  )
  const leftS = look === undefined ? null : Math.max(0, lookForS - ((bench.value?.nowS ?? 0) - look.timeS))
  return (
    <div class="stack tight">
      <p>
        Where the hose stays on, prove its cock: close the section without pressure, shut the cock, then turn
        the supply on. Gas that seeps through raises the gauge within a minute.
      </p>
      {leftS === null || leftS === 0 ? (
        <button
          type="button"
          onClick={() => void sendMark({ kind: 'supply', fields: { name: 'look' } }, 'supply look begun')}
        >
          {leftS === 0 ? 'Look again' : 'Supply is on, cock is shut: look'}
        </button>
      ) : (
        <p role="timer">Hands off for {clock(leftS)} more.</p>
      )}
      {leftS === 0 && (
        <p class="soft">The look is complete. Begin the pump-up; the result says what it showed.</p>
      )}
    </div>
  )
}
