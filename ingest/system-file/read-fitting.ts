import type { Fitting, FittingKind } from '#analysis/model/system.ts'
import type { MapView } from './file-view.ts'
import { span } from './read-quantity.ts'

export const fittingKeys = ['id', 'section', 'kind', 'size', 'name', 'material', 'torque', 'behind'] as const

export const fittingKinds: readonly FittingKind[] = [
  'flare',
  'pipe-thread',
  'hose-end',
  'drain-valve',
  'sender-gasket',
  'cap',
  'clamp',
  'other',
]

export function readFitting(view: MapView): Fitting | null {
  const id = view.requiredText('id')
  const section = view.requiredText('section')
  const kind = view.word('kind', fittingKinds, false) ?? 'other'
  const torqueNm = span(view, 'torque', { dimension: 'torque' }, true)
  if (torqueNm !== null && torqueNm[0] <= 0) view.error('torque', 'must be more than zero')
  const material = view.word('material', ['aluminium', 'steel'] as const, false)
  const behind = view.words('behind')
  if (id === null || section === null) return null
  return {
    id,
    section,
    kind,
    size: view.text('size'),
    name: view.text('name') ?? id,
    material,
    torqueNm,
    behind,
  }
}
