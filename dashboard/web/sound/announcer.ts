import { computed, effect, signal } from '@preact/signals'
import type { LiveState } from '#dashboard/api.ts'
import { gaugeOffsetPa, type Running, running } from '../hold/running.ts'
import { bench, link, quietFor, trueReading } from '../live/bench.ts'
import { readings } from '../live/traces.ts'
import { isSuction } from '../suction.ts'
import { type Call, callsOf, changeTune } from './calls.ts'
import { play, speak, unlockSound } from './player.ts'

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
export const currentCall = computed<Call | null>(() => {
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

export function answerCall({ key }: Call): void {
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
