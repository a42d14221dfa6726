import { useSignal } from '@preact/signals'
import type { NextStep } from '#analysis/model/hunt.ts'
import { t } from '#analysis/reasons/language.ts'
import { openPartTools } from '../marks/part-dialog.tsx'
import { sendMark } from '../marks/send-mark.ts'

/**
 * The next looks, one place after the other with a tap each, until one bubbles or none is left. The order is fixed
 * during the tour, although each mark updates the posterior at once.
 */
export function LookTour({ places, fittings }: Pick<NextStep, 'places' | 'fittings'>) {
  const tour = useSignal<readonly string[] | null>(null)
  const dry = useSignal(0)
  const found = useSignal<string | null>(null)
  const order = tour.value ?? places
  if (order.length === 0) return null
  const at = order[dry.value]
  const see = async (id: string, finding: 'bubbles' | 'dry'): Promise<void> => {
    tour.value = order
    await sendMark({ kind: 'look', id, fields: { finding } }, `${id} ${finding}`)
    if (finding === 'dry') dry.value++
    else found.value = id
  }
  const end = (): void => {
    tour.value = null
    dry.value = 0
    found.value = null
  }
  return (
    <section class="row" aria-label="Looks">
      {found.value !== null ? (
        <>
          <span>
            <strong>This one: {found.value}.</strong> Vent before you work on it.
          </span>
          {fittings.includes(found.value) && (
            <button type="button" class="main" onClick={() => openPartTools(found.value!)}>
              Mark the work
            </button>
          )}
        </>
      ) : at === undefined ? (
        <strong>None of these: {order.join(', ')}.</strong>
      ) : (
        <>
          <span>
            {fittings.includes(at) ? at : t`hoses, seams and walls of ${at}`}, {dry.value + 1} of{' '}
            {order.length}:
          </span>
          <button type="button" onClick={() => void see(at, 'bubbles')}>
            Bubbles
          </button>
          <button type="button" onClick={() => void see(at, 'dry')}>
            Dry
          </button>
        </>
      )}
      {tour.value !== null && (
        <button type="button" onClick={end}>
          End the looks
        </button>
      )}
    </section>
  )
}
