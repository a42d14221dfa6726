import type { LeakLook, LiveState, SampleBatch, StreamedState } from '#dashboard/api.ts'
import type { EventRing } from '#dashboard/server/stream/event-ring.ts'

const tickMs = 100
const stateEveryMs = 1000
const stateAfterChangeMs = 200
const beatEveryMs = 5000

/** Whether the state changed, and data that arrived since the last call; null when there are none. */
export interface News {
  isChanged: boolean
  readonly channels: { takeBatch(): SampleBatch | null }
}

export interface TickerSource {
  state(): Omit<LiveState, 'role'>
  /** Ten times a second, after the batch was sent. */
  tick(): void
  /** Every few seconds. */
  beat(): void
}

/** Drives the live stream: samples ten times a second, the state soon after a change and each second, a heartbeat between. */
export class SessionTicker {
  readonly #ring: EventRing
  readonly #news: News
  readonly #source: TickerSource
  #stateAtMs = 0
  #beatAtMs = 0
  /** Looks of the state sent last. */
  #sentLooks: readonly LeakLook[] | null = null
  #timer: NodeJS.Timeout | null = null

  constructor(ring: EventRing, news: News, source: TickerSource) {
    this.#ring = ring
    this.#news = news
    this.#source = source
  }

  start(): void {
    this.#timer = setInterval(() => this.#tick(), tickMs)
  }

  stop(): void {
    if (this.#timer) clearInterval(this.#timer)
  }

  #tick(): void {
    const nowMs = performance.now()
    const batch = this.#news.channels.takeBatch()
    if (batch) this.#ring.push('samples', JSON.stringify(batch))
    this.#source.tick()
    const sinceMs = nowMs - this.#stateAtMs
    if (sinceMs >= stateEveryMs || (this.#news.isChanged && sinceMs >= stateAfterChangeMs)) {
      this.#news.isChanged = false
      this.#stateAtMs = nowMs
      this.#ring.push('state', JSON.stringify(this.#withNewLooks(this.#source.state())))
    }
    if (nowMs - this.#beatAtMs >= beatEveryMs) {
      this.#beatAtMs = nowMs
      this.#ring.push('beat', '{}')
      this.#source.beat()
    }
  }

  /** Omits unchanged looks: they are most of a state, and a watcher of the stream has them. */
  #withNewLooks(state: Omit<LiveState, 'role'>): Omit<StreamedState, 'role'> {
    const known = this.#sentLooks
    this.#sentLooks = state.hold?.looks ?? null
    if (state.hold === null || state.hold.looks !== known) return state
    const { looks: _, ...hold } = state.hold
    return { ...state, hold }
  }
}
