import { type Signal, useSignal } from '@preact/signals'
import { useEffect, useRef } from 'preact/hooks'
import { get, post } from '../api-client.ts'
import { returns } from '../live/bench.ts'
import { toastError } from './toast.tsx'

export interface Answer<T> {
  readonly value: T | null
  readonly error: string | null
}

/** Requests when `key` or `again` changes, or a lost server is back; a null key requests nothing. */
export function useAsked<T>(
  key: string | null,
  ask: (key: string) => Promise<T>,
  again: unknown = 0,
): Signal<Answer<T>> {
  const answer = useSignal<Answer<T>>({ value: null, error: null })
  const wanted = useRef(key)
  wanted.current = key
  useEffect(() => {
    if (key === null) {
      answer.value = { value: null, error: null }
      return
    }
    ask(key).then(
      (value) => {
        if (wanted.current === key) answer.value = { value, error: null }
      },
      (error: Error) => {
        if (wanted.current === key) answer.value = { value: answer.peek().value, error: error.message }
      },
    )
  }, [key, again, returns.value])
  return answer
}

/** Fetches `path`. */
export const useAnswer = <T>(path: string | null, again: unknown = 0): Signal<Answer<T>> =>
  useAsked(path, get<T>, again)

/** Posts `body` to `path` and shows what the server answers. */
export const usePosted = <T>(path: string, body: object): Signal<Answer<T>> =>
  useAsked(JSON.stringify([path, body]), () => post<T>(path, body))

/** Runs an async task: `busy` while it lasts, an error as a toast. Re-entrancy guard: a second tap does nothing. */
export function useTask(): {
  readonly busy: Signal<boolean>
  readonly run: (work: () => Promise<unknown>) => Promise<void>
} {
  const busy = useSignal(false)
  const run = async (work: () => Promise<unknown>): Promise<void> => {
    if (busy.value) return
    busy.value = true
    try {
      await work()
    } catch (error) {
      toastError(error)
    } finally {
      busy.value = false
    }
  }
  return { busy, run }
}

/** Error of a form's last request, which is shown beside the form, where the user corrects it. */
export function useTrouble(): {
  readonly wrong: Signal<string | null>
  readonly tell: (work: () => Promise<void>) => Promise<void>
} {
  const wrong = useSignal<string | null>(null)
  const tell = async (work: () => Promise<void>): Promise<void> => {
    try {
      await work()
      wrong.value = null
    } catch (error) {
      wrong.value = error instanceof Error ? error.message : String(error)
    }
  }
  return { wrong, tell }
}
