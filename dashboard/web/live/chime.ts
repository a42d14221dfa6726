import type { LiveState } from '#dashboard/api.ts'
import { sound } from '../settings.ts'
import { type TuneName, tuneFor } from './tune-for.ts'

let audio: AudioContext | null = null

/** [frequency Hz, start s, length s] of each note. */
type Tune = readonly (readonly [number, number, number])[]

const tunes = {
  stage: [
    [523, 0, 0.14],
    [659, 0.17, 0.2],
  ],
  pass: [
    [523, 0, 0.16],
    [659, 0.18, 0.16],
    [784, 0.36, 0.45],
  ],
  fail: [
    [330, 0, 0.3],
    [247, 0.34, 0.6],
  ],
  unsure: [
    [440, 0, 0.2],
    [440, 0.3, 0.2],
  ],
  stop: [
    [880, 0, 0.18],
    [622, 0.2, 0.18],
    [880, 0.4, 0.18],
    [622, 0.6, 0.18],
  ],
} satisfies Record<TuneName, Tune>

export function play(name: TuneName): void {
  if (sound.value === 'off') return
  audio ??= new AudioContext()
  const context = audio
  void context.resume()
  for (const [frequency, start, length] of tunes[name]) {
    const tone = context.createOscillator()
    const volume = context.createGain()
    const at = context.currentTime + start
    tone.type = name === 'stop' ? 'square' : 'triangle'
    tone.frequency.value = frequency
    volume.gain.setValueAtTime(0, at)
    volume.gain.linearRampToValueAtTime(0.25, at + 0.02)
    volume.gain.exponentialRampToValueAtTime(0.001, at + length)
    tone.connect(volume).connect(context.destination)
    tone.start(at)
    tone.stop(at + length)
  }
}

/** Lets a change of stage, a verdict and a call to stop be heard across the hangar. */
export function chime(before: LiveState | null, now: LiveState): void {
  const tune = tuneFor(before, now)
  if (tune !== null) play(tune)
}
