import type { Signal } from '@preact/signals'
import type { ComponentChildren } from 'preact'
import { useLayoutEffect, useRef } from 'preact/hooks'

interface Props {
  readonly title: string
  /** Whether it is open; Escape and each submit button close it. */
  readonly open: Signal<boolean>
  readonly onSubmit?: () => void
  readonly children: ComponentChildren
}

/** A question over the page. Every `submit` button answers it and closes it; Enter takes the first of them. */
export function Dialog({ title, open, onSubmit, children }: Props) {
  const box = useRef<HTMLDialogElement>(null)
  const id = title.replace(/\W+/g, '-')
  // During the tap that asks, not a frame later.
  useLayoutEffect(() => {
    if (open.value) box.current!.showModal()
    else box.current!.close()
  }, [open.value])
  return (
    <dialog ref={box} aria-labelledby={id} onClose={() => (open.value = false)}>
      <form method="dialog" class="stack" onSubmit={onSubmit}>
        <h2 id={id}>{title}</h2>
        {children}
      </form>
    </dialog>
  )
}

/** Confirms an irreversible step: the first button cancels, the second proceeds. */
export function Confirm(props: {
  readonly title: string
  readonly open: Signal<boolean>
  readonly stay: string
  readonly go: string
  readonly onGo: () => void
  readonly look?: string
  readonly children: ComponentChildren
}) {
  const { title, open, stay, go, onGo, look = '', children } = props
  return (
    <Dialog title={title} open={open}>
      <p>{children}</p>
      <div class="row">
        <button type="submit" class="main large">
          {stay}
        </button>
        <button type="submit" class={`large ${look}`} onClick={onGo}>
          {go}
        </button>
      </div>
    </Dialog>
  )
}
