import { parseQuantity } from '#analysis/physics/quantity.ts'
import type { MapView } from './file-view.ts'
import { type Expected, quantityOf } from './read-quantity.ts'

/** `0.25 % of span` (needs a range) or a half-width with its unit (`0.05 psi`, `± 0.5 degC`), in SI. */
export function readAccuracy(
  channel: MapView,
  difference: Expected,
  rangeSi: readonly [number, number] | null,
): number | null {
  const text = channel.text('accuracy')?.replace(/^(±|\+\/-)\s*/, '')
  if (text === undefined) return null
  const ofSpan = parseQuantity(text, 'share-of-span')
  let accuracySi: number | null
  if (!('fault' in ofSpan)) {
    if (rangeSi === null) {
      if (channel.node('range') === null) {
        channel.error('accuracy', 'a share of the span needs the "range" of the channel')
      }
      return null
    }
    accuracySi = ofSpan.value * (rangeSi[1] - rangeSi[0])
  } else if (text.includes('%')) {
    channel.error('accuracy', `"${text}" is not understood; write it like "0.25 % of span"`)
    return null
  } else {
    accuracySi = quantityOf(text, difference, (wrong) => channel.error('accuracy', wrong))?.value ?? null
  }
  if (accuracySi !== null && accuracySi <= 0) channel.error('accuracy', 'must be more than zero')
  return accuracySi
}
