import { computed, effect, signal } from '@preact/signals'
import type { System } from '#analysis/model/system.ts'
import { calibratedReadings } from '#analysis/signal/calibrated-readings.ts'
import type { LiveState, SampleBatch, StreamedState, SystemFileError } from '#dashboard/api.ts'
import { get, post } from '../api-client.ts'
import { takeFrame } from '../parts/draw-queue.ts'
import { followSystem } from '../settings.ts'
import { isSuction } from '../suction.ts'
import { addBatch, drawFrom } from './traces.ts'

/**
 * `live`: the stream speaks. `stalled`: it is open but has said nothing for 3 s.
 * `lost`: the server does not answer.
 */
export type Link = 'opening' | 'live' | 'stalled' | 'lost'

export const bench = signal<LiveState | null>(null)
export const link = signal<Link>('opening')
/** Page clock of the last word from the server, [ms]. */
export const heardAtMs = signal(Date.now())
/** Ticks once a second, so that ages on the screen grow while nothing arrives. */
export const tickMs = signal(Date.now())
/** Counts how often the server was lost and came back: what could not be asked meanwhile is asked again. */
export const returns = signal(0)
export const system = signal<System | null>(null)
export const systemText = signal('')
/** What was typed into the file's editor and is not saved; it stays while one looks at another page. */
export const typedText = signal<string | null>(null)

/** A port that has closed and said nothing for this long has ended. */
const QUIET_AFTER_S = 5
/** A state comes each second: after so long without a word nothing on the screen is of now. */
const STALL_AFTER_MS = 3000
/** A stalled stream is opened again after so long, and then as often: opening takes its time over a slow network. */
const REOPEN_AFTER_MS = 12_000

export const mayOperate = computed(() => bench.value !== null && bench.value.role === 'operator')
/** Numbers on the screen are what the bench measures now. */
export const isLive = computed(() => link.value === 'live')

/** No logger says anything: one is missed, or each has ended, as a recording that was played to its end. */
export const isSilent = computed(() => {
  const { alarms, ports } = bench.value ?? { alarms: [], ports: [] }
  const ended = ports.length > 0 && ports.every((one) => !one.open && (one.silentS ?? 0) > QUIET_AFTER_S)
  return ended || alarms.some((one) => one.code.startsWith('logger'))
})

/** The same looks as before stay the same list, whether or not they are told again: what draws them need not. */
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
  // Another aircraft is at the bench: nothing of the one before may stay on the page.
  if (before && before.aircraft !== state.aircraft) location.reload()
  takeFrame()
  bench.value = state
  if (before && before.systemChanges !== state.systemChanges) void readSystem()
}

/** Tells the bench something; its state comes back and is shown at once. */
export async function tell(path: string, body: object): Promise<LiveState> {
  const state = await post<LiveState>(path, body)
  take(state)
  return state
}

/** What the server answers about the system file; without errors the file is in force. */
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
    // The banner of the lost server already says it; the next reconnect asks again.
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
      void drawFrom(pumpUpS.peek(), bench.peek()?.nowS ?? null)
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
    void drawFrom(pumpUpS.peek(), bench.peek()?.nowS ?? null)
  })
  source.onerror = () => {
    if (source !== stream) return
    link.value = 'lost'
    // The browser gives up for good on some errors (a refused port behind a proxy): open anew by hand.
    if (source.readyState === EventSource.CLOSED) reopenTimer = setTimeout(open, 2000)
  }
}

const pumpUpS = computed(() => {
  const hold = bench.value?.hold
  if (hold === null || hold === undefined) return null
  return Math.max(0, (hold.pumpUpS ?? hold.stageStartedS) - 10)
})

/** Opens the stream and keeps it: called once, when the page starts. */
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
  effect(() => {
    const start = pumpUpS.value
    void drawFrom(start, bench.peek()?.nowS ?? null)
  })
}

export const channelsOf = (section: string, kind: (measures: string) => boolean) =>
  (system.value?.channels ?? []).filter((one) => one.section === section && kind(one.measures))

/** Whether a hold of the system file, by its id, is one under suction; false where the file no longer has it. */
export const isSuctionHold = (id: string): boolean =>
  isSuction(system.value?.holds.find((one) => one.id === id))

/** A live reading put right by the channel's calibration, as the analysis does it; unknown channels as they are. */
export function trueReading(id: string, reading: number): number {
  const channel = system.value?.channels.find((one) => one.id === id)
  return channel?.calibration ? calibratedReadings(channel, Float64Array.of(reading))[0] : reading
}

/** For how long a channel that once gave readings has given none, [s]; null while they come. */
export const quietFor = (channel: string): number | null => bench.value?.newest[channel]?.quietS ?? null
