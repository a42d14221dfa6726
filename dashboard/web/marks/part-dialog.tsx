import { signal } from '@preact/signals'
import { useEffect, useRef } from 'preact/hooks'
import { system } from '../live/bench.ts'
import { FittingTools, ValveTools } from './part-tools.tsx'

/** Id of the fitting or valve whose tools are open; null while none are. */
const opened = signal<string | null>(null)

export const openPartTools = (id: string): void => {
  opened.value = id
}

/** The tools of one fitting or valve, over the current page. */
export function PartDialog() {
  const dialog = useRef<HTMLDialogElement>(null)
  const id = opened.value
  useEffect(() => {
    if (id === null) dialog.current?.close()
    else dialog.current?.showModal()
  }, [id])
  const fitting = system.value?.fittings.find((one) => one.id === id)
  const close = (): void => {
    opened.value = null
  }
  return (
    <dialog ref={dialog} class="part-dialog" aria-labelledby="part-title" onClose={close}>
      <header class="panel-head">
        <h2 id="part-title">
          {id} <span class="unit">{fitting?.name}</span>
        </h2>
        <button type="button" onClick={close}>
          Close
        </button>
      </header>
      {fitting && <FittingTools key={id} fitting={fitting} onMarked={close} />}
      <ValveTools valves={(system.value?.valves ?? []).filter((one) => one.id === id)} onMarked={close} />
    </dialog>
  )
}
