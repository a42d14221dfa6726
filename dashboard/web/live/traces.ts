import { signal } from '@preact/signals'
import type { MinMaxColumns, SampleBatch } from '#dashboard/api.ts'
import { get } from '../api-client.ts'
import { takeFrame } from '../parts/draw-queue.ts'
import { LiveTrace } from './live-trace.ts'

/** Idle pages show the last ten minutes; a hold is shown from its pump-up. */
const IDLE_WINDOW_S = 600

let traces = new Map<string, LiveTrace>()
let fromS: number | null = null
/** Batches that arrived while the history was loading; they are appended to it. */
let meanwhile: SampleBatch[] | null = null

/** Newest reading of each channel, throttled to four updates a second, so that figures are readable. */
export const readings = signal<
  Readonly<Record<string, { readonly timeS: number; readonly reading: number }>>
>({})
let pending: Record<string, { timeS: number; reading: number }> = {}
let shownAtMs = 0

/** Counts up when there is new data to draw. */
export const drawn = signal(0)

const fresh = (): LiveTrace =>
  fromS === null ? new LiveTrace(0.5, IDLE_WINDOW_S) : new LiveTrace(0.25, null)

export const traceOf = (channel: string): LiveTrace | undefined => traces.get(channel)

export function addBatch(batch: SampleBatch): void {
  meanwhile?.push(batch)
  addToTraces(batch)
  drawn.value++
}

function addToTraces(batch: SampleBatch): void {
  for (const [channel, columns] of Object.entries(batch.channels)) {
    let trace = traces.get(channel)
    if (trace === undefined) {
      trace = fresh()
      traces.set(channel, trace)
    }
    for (const [i, reading] of columns.reading.entries()) trace.add(columns.timeS[i]!, reading)
    const [timeS, reading] = [columns.timeS.at(-1), columns.reading.at(-1)]
    if (timeS !== undefined && reading !== undefined) pending[channel] = { timeS, reading }
  }
  if (performance.now() - shownAtMs > 250) {
    shownAtMs = performance.now()
    takeFrame()
    readings.value = { ...readings.peek(), ...pending }
    pending = {}
  }
}

/** Fills a trace with slices, each from its lowest and highest reading. */
export function traceFrom({ timeS, low, high }: MinMaxColumns, trace: LiveTrace): LiveTrace {
  for (const [i, atS] of timeS.entries()) {
    trace.add(atS, low[i]!)
    if (high[i] !== low[i]) trace.add(atS + 1e-4, high[i]!)
  }
  return trace
}

/**
 * Restarts the drawn history at `startS` (null: the last ten minutes) and requests the readings from before
 * the page opened. Readings that arrive meanwhile are newer and are appended.
 */
export async function drawFrom(startS: number | null, nowS: number | null): Promise<void> {
  fromS = startS
  const since = startS ?? Math.max(0, (nowS ?? 0) - IDLE_WINDOW_S)
  const following: SampleBatch[] = []
  meanwhile = following
  const wanted = new Map<string, LiveTrace>()
  let before: readonly MinMaxColumns[] = []
  try {
    before = await get<readonly MinMaxColumns[]>(`/api/live?from=${since}&points=1200`)
  } catch {
    // Without it the chart begins at the next reading; the banner of the lost server explains why.
  }
  // A later request has replaced this one and has its own list of batches.
  if (meanwhile !== following) return
  for (const columns of before) {
    wanted.set(columns.channel, traceFrom(columns, fresh()))
  }
  traces = wanted
  meanwhile = null
  for (const batch of following) addToTraces(batch)
  drawn.value++
}
