import { signal } from '@preact/signals'

interface Message {
  readonly text: string
  readonly isError: boolean
}

const shown = signal<Message | null>(null)
let timer: ReturnType<typeof setTimeout> | undefined

/** Tells the user what just happened; an error stays until it is closed. */
export function toast(text: string, isError = false): void {
  clearTimeout(timer)
  shown.value = { text, isError }
  if (isError) return
  timer = setTimeout(() => {
    shown.value = null
  }, 6000)
}

export const toastError = (error: unknown): void =>
  toast(error instanceof Error ? error.message : String(error), true)

export function Toast() {
  const message = shown.value
  return (
    <div class="toast" role="status" aria-live="polite">
      {message !== null && (
        <p class={message.isError ? 'is-error' : ''}>
          {message.text}
          <button
            type="button"
            class="quiet"
            onClick={() => {
              shown.value = null
            }}
          >
            Close
          </button>
        </p>
      )}
    </div>
  )
}
