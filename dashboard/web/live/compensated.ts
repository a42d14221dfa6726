import { effect, signal } from '@preact/signals'
import type { CompensatedCurve } from '#dashboard/api.ts'
import { get } from '../api-client.ts'
import { bench } from './bench.ts'

interface Curve {
  readonly timeS: readonly number[]
  readonly compensatedPa: readonly number[]
}

/**
 * Compensated gauge pressure of the running hold, by section. Each look moves the whole curve slightly,
 * so the whole curve is fetched after each: parts of two fits would meet in a false step.
 */
export const compensated = signal<Readonly<Record<string, Curve>>>({})

/** The hold and the look of the current curve. */
let ofHold = ''
let ofLookS = Number.NaN
let asking = false

/** The look itself is drawn first; its curve follows a few frames later. */
const afterMs = 60

async function askServer(hold: string, lookS: number): Promise<void> {
  asking = true
  await new Promise((resolve) => setTimeout(resolve, afterMs))
  try {
    const curves = await get<readonly CompensatedCurve[]>('/api/live/compensated')
    if (hold === ofHold) {
      ofLookS = lookS
      compensated.value = Object.fromEntries(curves.map((one) => [one.section, one]))
    }
  } catch {
    // The next look repeats the request; the banner of the lost server explains why the curve does not grow.
  } finally {
    asking = false
  }
}

effect(() => {
  const hold = bench.value?.hold
  if (!hold || (hold.stage !== 'hold' && hold.stage !== 'vent')) {
    ofHold = ''
    if (Object.keys(compensated.peek()).length > 0) compensated.value = {}
    return
  }
  const key = `${hold.hold} ${hold.pumpUpS ?? hold.stageStartedS}`
  if (key !== ofHold) {
    ofHold = key
    ofLookS = Number.NaN
    compensated.value = {}
  }
  const lookS = hold.looks.at(-1)?.atS
  if (lookS !== undefined && lookS !== ofLookS && !asking) void askServer(key, lookS)
})
