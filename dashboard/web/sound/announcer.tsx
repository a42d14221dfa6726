import { computed, effect, signal } from '@preact/signals'
import { plural, t } from '#analysis/reasons/language.ts'
import type { LiveState } from '#dashboard/api.ts'
import { gaugeOffsetPa, type Running, running } from '../hold/running.ts'
import { bench, link, quietFor, trueReading } from '../live/bench.ts'
import { readings } from '../live/traces.ts'
import { notYet, waiting } from '../marks/outbox.ts'
import { Button } from '../parts/fields.tsx'
import { isSuction } from '../parts/hold-limits.ts'
import { sound } from '../settings.ts'
import { type Call, callsOf, changeTune } from './calls.ts'
import { maySound, play, speak, unlockSound } from './player.ts'

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
          <Button onClick={() => answerCall(call)}>Heard</Button>
        </p>
      )}
    </section>
  )
}

/** Repeat interval of a call, [ms]. */
const repeatMs = 4000

/** When each call was answered, page clock, [ms]. */
const answered = signal<ReadonlyMap<string, number>>(new Map())
/** Updated while calls are answered, so that a call about a danger to people returns. */
const nowMs = signal(Date.now())

/** At pressure slightly below the target: the last strokes overshoot. */
const atPressureShare = 0.99

function isAtPressure({ pressures, barometer, spec }: Running): boolean {
  if (spec === null || pressures.length === 0) return false
  return pressures.every(({ channel, absolute }) => {
    const reading = (readings.value[channel] ?? bench.value?.newest[channel])?.reading
    if (reading === undefined) return false
    const gaugePa = trueReading(channel, reading) + gaugeOffsetPa(absolute, barometer)
    return gaugePa / spec.pressurePa >= atPressureShare
  })
}

/** The current call; null while there is none or all are answered. */
const currentCall = computed<Call | null>(() => {
  const state = bench.value
  if (state === null) return null
  const run = running.value
  const channels = run ? [...run.pressures.map(({ channel }) => channel), ...run.temperatures] : []
  const calls = callsOf(state, {
    link: link.value,
    silent: channels.find((one) => quietFor(one) !== null) ?? null,
    isAtPressure: run !== null && isAtPressure(run),
    isSuction: isSuction(run?.spec ?? undefined),
  })
  return (
    calls.find(({ key, againAfterS }) => {
      const atMs = answered.value.get(key)
      return atMs === undefined || (againAfterS !== null && nowMs.value - atMs > againAfterS * 1000)
    }) ?? null
  )
})

function answerCall({ key }: Call): void {
  answered.value = new Map(answered.value).set(key, Date.now())
}

let before: LiveState | null = null

/** Announces the bench with sound, vibration and speech; called once, when the page starts. */
export function announce(): void {
  for (const touch of ['pointerdown', 'keydown'] as const) addEventListener(touch, unlockSound)
  let soundedAtMs = Number.NEGATIVE_INFINITY
  let soundedKey = ''
  const sound = (): void => {
    const call = currentCall.peek()
    if (call === null) {
      soundedKey = ''
      return
    }
    if (call.key === soundedKey && performance.now() - soundedAtMs < repeatMs) return
    soundedAtMs = performance.now()
    soundedKey = call.key
    play(call.tune)
    speak(call.words)
  }
  effect(() => {
    const state = bench.value
    if (state === null) return
    const tune = changeTune(before, state)
    before = state
    // A call that begins with the change is more specific.
    if (tune !== null && currentCall.peek() === null) play(tune)
  })
  effect(() => {
    currentCall.value
    sound()
  })
  setInterval(() => {
    nowMs.value = Date.now()
    sound()
  }, 500)
}
