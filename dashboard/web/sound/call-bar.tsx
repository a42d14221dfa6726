import { plural, t } from '#analysis/reasons/language.ts'
import { bench } from '../live/bench.ts'
import { notYet, waiting } from '../marks/outbox.ts'
import { sound } from '../settings.ts'
import { answerCall, currentCall } from './announcer.ts'
import { maySound } from './player.ts'

/** The words of the current call and its answer button, within reach of a thumb. */
export function CallBar() {
  const call = currentCall.value
  const isMute = sound.value === 'on' && !maySound.value && bench.value !== null && bench.value.hold !== null
  return (
    <section class="call-bar" aria-label="Calls">
      {isMute && <p class="call is-mute is-passive">Tap anywhere: the browser plays no sound before that.</p>}
      {waiting.value.length > 0 && (
        <p class="call is-mute">
          {plural(waiting.value.length, {
            one: t`${waiting.value.length} mark waits on this device`,
            other: t`${waiting.value.length} marks wait on this device`,
          })}
          {notYet.value === null ? t` for the network.` : `: ${notYet.value}`}
        </p>
      )}
      {call !== null && (
        <p class={`call is-${call.tune}`}>
          <strong>{call.words}</strong>
          <button type="button" onClick={() => answerCall(call)}>
            Heard
          </button>
        </p>
      )}
    </section>
  )
}
