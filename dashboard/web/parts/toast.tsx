import { signal } from '@preact/signals'
import { Button } from './fields.tsx'

interface Message {
  readonly text: string
  readonly isError: boolean
  readonly undo: (() => void) | null
}

const shown = signal<Message | null>(null)
let timer: ReturnType<typeof setTimeout> | undefined

/** How long a toast is shown, without and with an undo, [ms]. */
const shownMs = 6000
const undoMs = 10_000

function show(message: Message): void {
  clearTimeout(timer)
  shown.value = message
  if (message.isError) return
  timer = setTimeout(close, message.undo ? undoMs : shownMs)
}

function close(): void {
  shown.value = null
}

/** Reports an action to the user. */
export const toast = (text: string, { undo = null }: { readonly undo?: (() => void) | null } = {}): void =>
  show({ text, isError: false, undo })

/** An error stays until it is closed. */
export const toastError = (error: unknown): void =>
  show({ text: error instanceof Error ? error.message : String(error), isError: true, undo: null })

export function Toast() {
  const message = shown.value
  return (
    <div class="toast" role="status" aria-live="polite">
      {message !== null && (
        <p class={message.isError ? 'is-error' : ''}>
          {message.text}
          {message.undo ? (
            <Button
              class="undo"
              onClick={() => {
                close()
                message.undo?.()
              }}
            >
              Undo
            </Button>
          ) : (
            <Button class="quiet" onClick={close}>
              Close
            </Button>
          )}
        </p>
      )}
    </div>
  )
}
