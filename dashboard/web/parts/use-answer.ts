import { type Signal, useSignal } from '@preact/signals'
import { useEffect } from 'preact/hooks'
import { get } from '../api-client.ts'
import { returns } from '../live/bench.ts'

export interface Answer<T> {
  readonly value: T | null
  readonly error: string | null
}

/** Fetches `path` when it changes, and again when `again` does or a lost server is back; null asks nothing. */
export function useAnswer<T>(path: string | null, again: unknown = 0): Signal<Answer<T>> {
  const answer = useSignal<Answer<T>>({ value: null, error: null })
  useEffect(() => {
    let wanted = true
    if (path === null) {
      answer.value = { value: null, error: null }
      return
    }
    get<T>(path).then(
      (value) => {
        if (wanted) answer.value = { value, error: null }
      },
      (error: Error) => {
        if (wanted) answer.value = { value: answer.peek().value, error: error.message }
      },
    )
    return () => {
      wanted = false
    }
  }, [path, again, returns.value])
  return answer
}
