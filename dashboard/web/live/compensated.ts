import { effect, signal } from '@preact/signals'
import type { CompensatedCurve } from '#dashboard/api.ts'
import { get } from '../ask.ts'
import { bench } from './bench.ts'

interface Curve {
  readonly timeS: readonly number[]
  readonly compensatedPa: readonly number[]
}

/** Compensated gauge pressure of the running hold, per section: the server's curve, extended by each new state. */
export const compensated = signal<Readonly<Record<string, Curve>>>({})

let ofHold = ''
let askedAtMs = 0

const MOST_POINTS = 800

function halved(curve: Curve): Curve {
  if (curve.timeS.length < MOST_POINTS) return curve
  const even = (_: number, i: number): boolean => i % 2 === 0
  return { timeS: curve.timeS.filter(even), compensatedPa: curve.compensatedPa.filter(even) }
}

async function askServer(key: string): Promise<void> {
  try {
    const curves = await get<readonly CompensatedCurve[]>('/api/live/compensated')
    if (key !== ofHold) return
    compensated.value = Object.fromEntries(curves.map((one) => [one.section, one]))
  } catch {
    // The states alone still draw the curve from here on.
  }
}

effect(() => {
  const state = bench.value
  const hold = state?.hold
  if (!state || !hold || (hold.stage !== 'hold' && hold.stage !== 'vent')) {
    if (ofHold !== '') {
      ofHold = ''
      compensated.value = {}
    }
    return
  }
  const key = `${hold.hold} ${hold.pumpUpS ?? (hold.stage === 'hold' ? hold.stageStartedS : '')}`
  if (key !== ofHold) {
    ofHold = key
    askedAtMs = 0
    compensated.value = {}
  }
  // The fit moves the whole curve a little as it learns: take it anew now and then.
  if (Date.now() - askedAtMs > 4000) {
    askedAtMs = Date.now()
    void askServer(key)
  }
  if (hold.stage !== 'hold' || state.nowS === null) return
  const now = state.nowS
  const next: Record<string, Curve> = { ...compensated.peek() }
  for (const [section, pressurePa] of Object.entries(hold.compensatedPa)) {
    const curve = halved(next[section] ?? { timeS: [], compensatedPa: [] })
    if ((curve.timeS.at(-1) ?? -1) >= now) continue
    next[section] = {
      timeS: [...curve.timeS, now],
      compensatedPa: [...curve.compensatedPa, pressurePa],
    }
  }
  compensated.value = next
})
