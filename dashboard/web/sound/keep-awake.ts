import { effect, signal } from '@preact/signals'
import { bench } from '../live/bench.ts'

/** Method that keeps the screen on: the browser's wake lock, a silent video, or none. */
const awakeBy = signal<'wake-lock' | 'video' | null>(null)

let lock: WakeLockSentinel | null = null
let video: HTMLVideoElement | null = null

/**
 * A blank, silent video. Browsers keep the screen on for a video with an audio track; over plain HTTP they
 * offer nothing else, since the wake lock needs a secure context.
 */
function silentVideo(): HTMLVideoElement {
  const canvas = document.createElement('canvas')
  canvas.width = canvas.height = 2
  const paint = canvas.getContext('2d')
  // A stream without new frames stalls.
  setInterval(() => paint?.fillRect(0, 0, 1, 1), 1000)
  const element = document.createElement('video')
  const silence = new AudioContext().createMediaStreamDestination().stream
  element.srcObject = new MediaStream([...canvas.captureStream(1).getTracks(), ...silence.getTracks()])
  element.playsInline = true
  return element
}

async function hold(): Promise<void> {
  if (document.visibilityState !== 'visible') return
  if ('wakeLock' in navigator) {
    try {
      lock ??= await navigator.wakeLock.request('screen')
      lock.onrelease = () => {
        lock = null
      }
      awakeBy.value = 'wake-lock'
      return
    } catch {
      // Refused, such as at a low battery: the video may still work.
    }
  }
  try {
    video ??= silentVideo()
    await video.play()
    awakeBy.value = 'video'
  } catch {
    // No video plays before the first touch: retry at the next touch.
    awakeBy.value = null
  }
}

function release(): void {
  void lock?.release()
  video?.pause()
  awakeBy.value = null
}

/** Keeps the screen on while a hold runs; called once, when the page starts. */
export function keepAwake(): void {
  const isRunning = (): boolean => bench.peek()?.hold != null
  effect(() => {
    // For tests: browsers have no API that reports what keeps the screen on.
    document.documentElement.dataset['awakeBy'] = awakeBy.value ?? 'nothing'
  })
  effect(() => {
    if (bench.value?.hold != null) {
      if (awakeBy.peek() === null) void hold()
    } else if (awakeBy.peek() !== null) release()
  })
  for (const event of ['pointerdown', 'visibilitychange'] as const) {
    document.addEventListener(event, () => {
      if (isRunning() && (awakeBy.peek() === null || lock === null)) void hold()
    })
  }
}
