import { computed, effect, signal } from '@preact/signals'
import type { System } from '#analysis/model/system.ts'
import { calibratedReadings } from '#analysis/signal/calibrated-readings.ts'
import type { LiveState, SampleBatch, StreamedState, SystemFileError } from '#dashboard/api.ts'
import { get, post } from '../api-client.ts'
import { takeFrame } from '../parts/draw-queue.ts'
import { isSuction } from '../parts/hold-limits.ts'
import { followSystem } from '../settings.ts'
import { addBatch, drawFrom } from './traces.ts'

/**
 * `live`: data arrive. `stalled`: the stream is open, but nothing has arrived for 3 s.
 * `lost`: the server does not answer.
 */
export type Link = 'opening' | 'live' | 'stalled' | 'lost'

export const bench = signal<LiveState | null>(null)
export const link = signal<Link>('opening')
/** Page clock at the last message from the server, [ms]. */
export const heardAtMs = signal(Date.now())
/** Ticks once a second, so that ages on the screen grow while nothing arrives. */
export const tickMs = signal(Date.now())
/** Number of reconnects: a change repeats the requests that failed while the server was lost. */
export const returns = signal(0)
export const system = signal<System | null>(null)
/** The channels of the system file, and the marks of the session; none until they are known. */
export const channels = computed(() => system.value?.channels ?? [])
export const marks = computed(() => bench.value?.marks ?? [])
export const systemText = signal('')
/** Unsaved text of the file's editor; kept while another page is open. */
export const typedText = signal<string | null>(null)

/** A closed port without data for this long has ended. */
const QUIET_AFTER_S = 5
/** A state arrives each second: after this long without one, the screen is out of date. */
const STALL_AFTER_MS = 3000
/** Interval between attempts to reopen a stalled stream; long, because a slow network needs time to open one. */
const REOPEN_AFTER_MS = 12_000

export const mayOperate = computed(() => bench.value !== null && bench.value.role === 'operator')
/** The numbers on the screen are current. */
export const isLive = computed(() => link.value === 'live')

/** A logger is missing, or every port has ended, like a recording that was played to its end. */
export const isSilent = computed(() => {
  const { alarms, ports } = bench.value ?? { alarms: [], ports: [] }
  const ended = ports.length > 0 && ports.every((one) => !one.open && (one.silentS ?? 0) > QUIET_AFTER_S)
  return ended || alarms.some((one) => one.code.startsWith('logger'))
})

/** Memoized: unchanged looks keep the same list, so that nothing is drawn again. */
function withLooks(told: StreamedState, before: LiveState | null): LiveState {
  if (!told.hold) return { ...told, hold: null }
  const same =
    before?.hold && before.hold.hold === told.hold.hold && before.hold.pumpUpS === told.hold.pumpUpS
  const known = same ? before.hold!.looks : []
  const { looks = known } = told.hold
  const nothingNew = looks.length === known.length && looks.at(-1)?.atS === known.at(-1)?.atS
  return { ...told, hold: { ...told.hold, looks: nothingNew ? known : looks } }
}

export function take(told: StreamedState): void {
  const before = bench.value
  const state = withLooks(told, before)
  // The bench has another aircraft: no data of the last one may stay on the page.
  if (before && before.aircraft !== state.aircraft) location.reload()
  takeFrame()
  bench.value = state
  if (before && before.systemChanges !== state.systemChanges) void readSystem()
}

/** Sends a request to the bench and shows the state that it returns. */
export async function tell(path: string, body: object): Promise<LiveState> {
  const state = await post<LiveState>(path, body)
  take(state)
  return state
}

/** The server's answer about the system file; without errors the file is in force. */
export interface SystemAnswer {
  readonly text: string
  readonly system: System | null
  readonly errors: readonly SystemFileError[]
}

export function takeSystem(answer: SystemAnswer): void {
  system.value = answer.system
  if (answer.system !== null) followSystem(answer.system)
  systemText.value = answer.text
}

async function readSystem(): Promise<void> {
  try {
    takeSystem(await get<SystemAnswer>('/api/system'))
  } catch {
    // The banner already reports the lost server; the next reconnect repeats the request.
  }
}

let stream: EventSource | null = null
let openedAtMs = 0
let reopenTimer: ReturnType<typeof setTimeout> | undefined

function heard(): void {
  heardAtMs.value = Date.now()
  if (link.value !== 'live') {
    const returning = link.value !== 'opening'
    link.value = 'live'
    void readSystem()
    if (returning) {
      returns.value++
      redraw()
    }
  }
}

function open(): void {
  clearTimeout(reopenTimer)
  openedAtMs = Date.now()
  stream?.close()
  const source = new EventSource('/api/stream')
  stream = source
  source.addEventListener('samples', (event) => {
    heard()
    addBatch(JSON.parse((event as MessageEvent<string>).data) as SampleBatch)
  })
  source.addEventListener('state', (event) => {
    heard()
    take(JSON.parse((event as MessageEvent<string>).data) as StreamedState)
  })
  source.addEventListener('beat', heard)
  source.addEventListener('restart', () => {
    heard()
    redraw()
  })
  source.onerror = () => {
    if (source !== stream) return
    link.value = 'lost'
    // The browser never retries after some errors (a refused port behind a proxy): reopen explicitly.
    if (source.readyState === EventSource.CLOSED) reopenTimer = setTimeout(open, 2000)
  }
}

const pumpUpS = computed(() => {
  const hold = bench.value?.hold
  return hold ? Math.max(0, (hold.pumpUpS ?? hold.stageStartedS) - 10) : null
})

/** Draws the history anew; in an effect, whenever another hold begins. */
const redraw = (): void => void drawFrom(pumpUpS.value, bench.peek()?.nowS ?? null)

/** Opens the stream and keeps it open; called once, when the page starts. */
export function followBench(): void {
  void readSystem()
  void get<LiveState>('/api/state').then(take, () => undefined)
  open()
  setInterval(() => {
    const now = Date.now()
    tickMs.value = now
    if (link.value === 'live' && now - heardAtMs.value > STALL_AFTER_MS) link.value = 'stalled'
    if (link.value === 'stalled' && now - Math.max(heardAtMs.value, openedAtMs) > REOPEN_AFTER_MS) open()
  }, 1000)
  addEventListener('visibilitychange', () => {
    // A sleeping tab loses its stream without an error.
    if (document.visibilityState === 'visible' && Date.now() - heardAtMs.value > STALL_AFTER_MS) open()
  })
  effect(redraw)
}

export const channelsOf = (section: string, kind: (measures: string) => boolean) =>
  (system.value?.channels ?? []).filter((one) => one.section === section && kind(one.measures))

/** A hold of the system file by its id; undefined when the file no longer has it. */
export const specOf = (id: string) => system.value?.holds.find((one) => one.id === id)

/** Whether the hold with this id is under suction; false when the system file no longer has it. */
export const isSuctionHold = (id: string): boolean => isSuction(specOf(id))

/** A live reading corrected by the channel's calibration, as in the analysis; unknown channels are unchanged. */
export function trueReading(id: string, reading: number): number {
  const channel = system.value?.channels.find((one) => one.id === id)
  const [calibrated = reading] = channel?.calibration
    ? calibratedReadings(channel, Float64Array.of(reading))
    : []
  return calibrated
}

/** Time since the last reading of a channel that has stopped, [s]; null while readings arrive. */
export const quietFor = (channel: string): number | null => bench.value?.newest[channel]?.quietS ?? null
