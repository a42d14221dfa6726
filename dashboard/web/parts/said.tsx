import { signal } from '@preact/signals'

export interface Saying {
  readonly text: string
  readonly bad: boolean
}

const said = signal<Saying | null>(null)
let timer: ReturnType<typeof setTimeout> | undefined

/** Tells the user what just happened; bad news stays until it is put away. */
export function say(text: string, bad = false): void {
  clearTimeout(timer)
  said.value = { text, bad }
  if (!bad) {
    timer = setTimeout(() => {
      said.value = null
    }, 6000)
  }
}

export const sayError = (error: unknown): void =>
  say(error instanceof Error ? error.message : String(error), true)

export function Said() {
  const now = said.value
  return (
    <div class="said" role="status" aria-live="polite">
      {now !== null && (
        <p class={now.bad ? 'is-bad' : ''}>
          {now.text}
          <button
            type="button"
            class="quiet"
            onClick={() => {
              said.value = null
            }}
          >
            Close
          </button>
        </p>
      )}
    </div>
  )
}
