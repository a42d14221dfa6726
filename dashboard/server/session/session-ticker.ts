import type { LeakLook, LiveState, SampleBatch, StreamedState } from '#dashboard/api.ts'
import type { EventRing } from '#dashboard/server/stream/event-ring.ts'

const tickMs = 100
const stateEveryMs = 1000
const stateAfterChangeMs = 200
const beatEveryMs = 5000

export interface TickerSource {
  /** What arrived since the last call; null when nothing did. */
  batch(): SampleBatch | null
  state(): Omit<LiveState, 'role'>
  /** Ten times a second, after the batch went out. */
  tick(): void
  /** Every few seconds. */
  beat(): void
}

/** Drives the live stream: samples ten times a second, the state soon after a change and each second, a beat in between. */
export class SessionTicker {
  readonly #ring: EventRing
  readonly #source: TickerSource
  #changed = true
  #stateAtMs = 0
  #beatAtMs = 0
  /** Looks of the state told last. */
  #toldLooks: readonly LeakLook[] | null = null
  #timer: NodeJS.Timeout | null = null

  constructor(ring: EventRing, source: TickerSource) {
    this.#ring = ring
    this.#source = source
  }

  start(): void {
    this.#timer = setInterval(() => this.#tick(), tickMs)
  }

  stop(): void {
    if (this.#timer) clearInterval(this.#timer)
  }

  /** The state changed: watchers are told soon. */
  changed(): void {
    this.#changed = true
  }

  #tick(): void {
    const nowMs = performance.now()
    const batch = this.#source.batch()
    if (batch) this.#ring.push('samples', JSON.stringify(batch))
    this.#source.tick()
    const sinceMs = nowMs - this.#stateAtMs
    if (sinceMs >= stateEveryMs || (this.#changed && sinceMs >= stateAfterChangeMs)) {
      this.#changed = false
      this.#stateAtMs = nowMs
      this.#ring.push('state', JSON.stringify(this.#news(this.#source.state())))
    }
    if (nowMs - this.#beatAtMs >= beatEveryMs) {
      this.#beatAtMs = nowMs
      this.#ring.push('beat', '{}')
      this.#source.beat()
    }
  }

  /** Without the looks where none was added: they are most of a state, and whoever follows the stream has them. */
  #news(state: Omit<LiveState, 'role'>): Omit<StreamedState, 'role'> {
    const known = this.#toldLooks
    this.#toldLooks = state.hold?.looks ?? null
    if (state.hold === null || state.hold.looks !== known) return state
    const { looks: _, ...hold } = state.hold
    return { ...state, hold }
  }
}
