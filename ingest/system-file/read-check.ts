import type { Check } from '#analysis/model/system.ts'
import { standardAtmospherePa } from '#analysis/physics/ideal-gas.ts'
import type { MapView } from './file-view.ts'
import { quantityOf, toleranced } from './read-quantity.ts'

export const checkKeys = ['id', 'kind', 'section', 'rate', 'volume'] as const

/** A known leak without a stated uncertainty is taken for one made by eye; a syringe has its scale. Own figures. */
const unstatedTolerance = { 'known-leak': 0.1, 'known-volume': 0.03 } as const
/** A check that may be off by more proves nothing within a quarter. */
const mostTolerance = 0.15

/** @param molPerStandardM3 mol in a cubic metre at the file's reference, [mol/m³] */
export function readCheck(view: MapView, molPerStandardM3: number): Check | null {
  const id = view.requiredText('id')
  const kind = view.word('kind', ['known-leak', 'known-volume'] as const, true)
  const section = view.requiredText('section')
  if (kind === null) return null
  const [own, other] = kind === 'known-leak' ? (['rate', 'volume'] as const) : (['volume', 'rate'] as const)
  if (view.node(other) !== null) view.error(other, `a ${kind} has a ${own}`)
  const text = view.requiredText(own)
  if (id === null || section === null || text === null) return null
  const complain = (wrong: string): void => view.error(own, wrong)
  if (kind === 'known-volume') {
    const volume = toleranced(view, 'volume', { dimension: 'volume' }, true)
    if (volume === null || !isSize(volume.value, complain)) return null
    return { id, kind, section, volumeM3: volume.value, tolerance: share(volume, kind, complain) }
  }
  const [rateText, atText] = text.split(/\s+at\s+/)
  if (atText === undefined) {
    complain(`"${text}" lacks its pressure; write it like "0.5 scc/min ± 5 % at 10 psi"`)
    return null
  }
  const rate = quantityOf(rateText, { dimension: 'gas-flow' }, complain)
  const at = quantityOf(atText, { dimension: 'pressure', reference: 'gauge' }, complain)
  if (rate === null || at === null || !isSize(rate.value, complain)) return null
  if (at.value === 0 || at.value <= -standardAtmospherePa) complain('at no pressure nothing flows')
  const molPerS = rate.value * molPerStandardM3
  return { id, kind, section, molPerS, atPa: at.value, tolerance: share(rate, kind, complain) }
}

function isSize(value: number, complain: (wrong: string) => void): boolean {
  if (value <= 0) complain('must be more than zero')
  return value > 0
}

function share(
  { value, tolerance }: { value: number; tolerance: number | null },
  kind: Check['kind'],
  complain: (wrong: string) => void,
): number {
  const part = tolerance === null ? unstatedTolerance[kind] : tolerance / value
  if (part > mostTolerance)
    complain(`may be off by ${Math.round(100 * part)} %; a check needs ${100 * mostTolerance} % or better`)
  return part
}
