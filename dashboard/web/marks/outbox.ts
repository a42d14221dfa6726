import { effect, signal } from '@preact/signals'
import { t } from '#analysis/reasons/language.ts'
import type { LiveState, NewMark } from '#dashboard/api.ts'
import { ApiError, post } from '../api-client.ts'
import { bench, link, take } from '../live/bench.ts'
import { toast, toastError } from '../parts/toast.tsx'
import { rememberedJson } from '../settings.ts'
import { markWord } from '../words.ts'

/** A mark that has not reached the bench yet. */
interface Waiting {
  readonly mark: NewMark
  readonly words: string
  /** Clock of this device when it was made, [ms]. */
  readonly madeAtMs: number
}

/** Delay before a retry while the link seems alive, [ms]. */
const tryAgainMs = 3000

/** Marks kept on this device until the network is back, oldest first; they survive a reload. */
export const waiting = rememberedJson<readonly Waiting[]>('outbox', [])

/** Why the bench does not take them yet; null while it cannot be reached. */
export const notYet = signal<string | null>(null)

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
async function deliver(mark: NewMark, words: string): Promise<LiveState | null> {
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
  waiting.value = [...waiting.value, { mark: keyed, words, madeAtMs }]
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
      waiting.value = waiting.value.slice(1)
    }
  } finally {
    sending = false
  }
}

/** Discards a waiting mark before it is sent. */
const dropWaiting = (key: string | undefined): void => {
  waiting.value = waiting.value.filter(({ mark }) => mark.key !== key)
}

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

type ShownMark = LiveState['marks'][number]

/** Sends a mark; `done` reports it with the state of the bench, null while it waits on this device. */
async function send(mark: NewMark, words: string, done: (state: LiveState | null) => void): Promise<void> {
  try {
    const state = await deliver(mark, words)
    if (state !== null) take(state)
    done(state)
  } catch (error) {
    toastError(error)
  }
}

/** Sends a mark and offers to undo it. */
export const sendMark = (mark: NewMark, words: string): Promise<void> =>
  send(mark, words, (state) => {
    if (state === null) {
      const kept = waiting.value.at(-1)?.mark.key
      return toast(t`No network. Kept on this device: ${words}.`, { undo: () => dropWaiting(kept) })
    }
    const made = state.marks.findLast((one) => one.kind === mark.kind && one.id === (mark.id ?? null))
    toast(t`Marked: ${words}.`, made && { undo: () => void takeBack(made) })
  })

export const markWords = ({ id, text }: ShownMark, say = markWord): string =>
  id === null ? say(text) : `${id} ${say(text)}`

/** Takes a mark back with a correcting mark: nothing in the recording is erased. */
export function takeBack(mark: ShownMark): Promise<void> {
  const words = markWords(mark)
  const correction: NewMark = {
    kind: 'correction',
    ...(mark.id !== null && { id: mark.id }),
    fields: { of: mark.ns, was: markWords(mark, String) },
  }
  return send(correction, t`taken back: ${words}`, () => toast(t`Taken back: ${words}.`))
}
