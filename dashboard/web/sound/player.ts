import { signal } from '@preact/signals'
import { language } from '#analysis/reasons/language.ts'
import { sound, spokenWords, vibration } from '../settings.ts'

/** [frequency Hz, start s, length s] of each note. */
type Tune = readonly (readonly [number, number, number])[]

/** Parses `523@0+0.14`: 523 Hz from 0 s for 0.14 s. */
const tune = (notes: string): Tune =>
  notes.split(' ').map((note) => {
    const [frequency = 0, start = 0, length = 0] = note.split(/[@+]/).map(Number)
    return [frequency, start, length]
  })

/** Tunes differ in rhythm as well as in pitch: high notes are lost in a hangar. */
export const tunes = {
  stage: tune('523@0+0.14 659@0.17+0.2'),
  stop: tune('880@0+0.18 622@0.2+0.18 880@0.4+0.18 622@0.6+0.18 880@0.8+0.18 622@1+0.18'),
  'pressure-lost': tune('880@0+0.33 698.46@0.35+0.33 554.37@0.7+0.33'),
  'sensor-lost': tune('330@0+0.12 330@0.2+0.12 330@0.7+0.12 330@0.9+0.12'),
  'at-pressure': tune('659@0+0.1 659@0.15+0.1 988@0.3+0.4'),
  settled: tune('784@0+0.5 587@0.55+0.5'),
  pass: tune('523@0+0.16 659@0.18+0.16 784@0.36+0.45'),
  fail: tune('330@0+0.3 247@0.34+0.6'),
  unsure: tune('440@0+0.2 440@0.3+0.2'),
  'time-over': tune('698@0+0.08 698@0.25+0.08 698@0.5+0.08 698@0.75+0.08'),
} satisfies Record<string, Tune>

export type TuneName = keyof typeof tunes

/** False until the browser's autoplay policy is met by a touch or a key. */
export const maySound = signal(false)

let audio: AudioContext | null = null

/** Call from a touch or a key event: browsers start audio at no other time. */
export function unlockSound(): void {
  audio ??= new AudioContext()
  const context = audio
  context.onstatechange = () => {
    maySound.value = context.state === 'running'
  }
  void context.resume()
}

export function play(name: TuneName): void {
  // A browser does not play or vibrate before the first touch.
  if (audio === null) return
  if (vibration.value === 'on') navigator.vibrate?.(vibrationOf(tunes[name]))
  if (sound.value === 'off') return
  const context = audio
  void context.resume()
  for (const [frequency, start, length] of tunes[name]) {
    const tone = context.createOscillator()
    const volume = context.createGain()
    const at = context.currentTime + start
    tone.type = name === 'stop' || name === 'pressure-lost' ? 'square' : 'triangle'
    tone.frequency.value = frequency
    volume.gain.setValueAtTime(0, at)
    volume.gain.linearRampToValueAtTime(0.35, at + 0.02)
    volume.gain.exponentialRampToValueAtTime(0.001, at + length)
    tone.connect(volume).connect(context.destination)
    tone.start(at)
    tone.stop(at + length)
  }
}

/** The rhythm of a tune as pulses and pauses, [ms]. */
function vibrationOf(tune: Tune): number[] {
  return tune.flatMap(([, start, length], i) => {
    const next = tune[i + 1]
    const pulse = Math.round(length * 1000)
    return next === undefined ? [pulse] : [pulse, Math.max(20, Math.round((next[1] - start - length) * 1000))]
  })
}

/** Speaks with the browser's own voice if the user switched it on. */
export function speak(words: string): void {
  if (spokenWords.value === 'off' || !('speechSynthesis' in globalThis)) return
  speechSynthesis.cancel()
  const utterance = new SpeechSynthesisUtterance(words)
  utterance.lang = language
  speechSynthesis.speak(utterance)
}
