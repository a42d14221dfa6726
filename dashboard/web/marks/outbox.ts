import { effect, signal } from '@preact/signals'
import type { LiveState, NewMark } from '#dashboard/api.ts'
import { ApiError, post } from '../api-client.ts'
import { bench, link, take } from '../live/bench.ts'
import { keep, recallJson } from '../settings.ts'

/** A mark that has not reached the bench yet. */
interface Waiting {
  readonly mark: NewMark
  readonly words: string
  /** Clock of this device when it was made, [ms]. */
  readonly madeAtMs: number
}

const storageName = 'outbox'
/** Delay before a retry while the link seems alive, [ms]. */
const tryAgainMs = 3000

/** Marks kept on this device until the network is back, oldest first; they survive a reload. */
export const waiting = signal(recallJson<readonly Waiting[]>(storageName, []))

/** Why the bench does not take them yet; null while it cannot be reached. */
export const notYet = signal<string | null>(null)

function wait(next: readonly Waiting[]): void {
  waiting.value = next
  keep(storageName, JSON.stringify(next))
}

const newKey = (): string =>
  Array.from(crypto.getRandomValues(new Uint8Array(12)), (byte) => byte.toString(16).padStart(2, '0')).join(
    '',
  )

/**
 * Sends a mark, or keeps it with its time when the bench cannot be reached.
 *
 * @returns the state with the mark; null when it waits on this device
 * @throws ApiError when the bench refuses it
 */
export async function deliver(mark: NewMark, words: string): Promise<LiveState | null> {
  const { aircraft } = bench.value ?? {}
  const keyed = { ...mark, key: newKey(), ...(aircraft && { aircraft }) }
  const madeAtMs = Date.now()
  // In order: waiting marks go first.
  if (waiting.value.length === 0 && link.value !== 'lost') {
    try {
      return await post<LiveState>('/api/mark', keyed)
    } catch (error) {
      if (!(error instanceof ApiError) || error.status !== null) throw error
    }
  }
  wait([...waiting.value, { mark: keyed, words, madeAtMs }])
  return null
}

let sending = false

/** Sends the waiting marks, oldest first; stops at the first failure. */
async function sendWaiting(onRefused: (words: string, error: Error) => void): Promise<void> {
  if (sending) return
  sending = true
  try {
    for (let next = waiting.value[0]; next !== undefined; next = waiting.value[0]) {
      const agoS = Math.max(0, (Date.now() - next.madeAtMs) / 1000)
      try {
        take(await post<LiveState>('/api/mark', { ...next.mark, agoS }))
      } catch (error) {
        if (!(error instanceof ApiError)) return
        const isLater = error.status === null || error.status >= 500
        notYet.value = error.status !== null && isLater ? error.message : null
        if (isLater) return
        onRefused(next.words, error)
      }
      notYet.value = null
      wait(waiting.value.slice(1))
    }
  } finally {
    sending = false
  }
}

/** Discards a waiting mark before it is sent. */
export const dropWaiting = (key: string | undefined): void =>
  wait(waiting.value.filter(({ mark }) => mark.key !== key))

/** Sends waiting marks when the network is back; called once, when the page starts. */
export function followOutbox(onRefused: (words: string, error: Error) => void): void {
  const attempt = (): void => {
    if (link.peek() === 'live' && waiting.peek().length > 0) void sendWaiting(onRefused)
  }
  effect(() => {
    link.value
    attempt()
  })
  setInterval(attempt, tryAgainMs)
}
