import type { Medium, Section } from '#analysis/model/system.ts'
import { standardAtmospherePa } from '#analysis/physics/ideal-gas.ts'
import type { MapView } from './file-view.ts'
import { positiveQuantity, quantity, toleranced } from './read-quantity.ts'

export const sectionKeys = [
  'id',
  'medium',
  'volume',
  'max-pressure',
  'max-vacuum',
  'stretch',
  'kind',
  'capacity',
  'unusable',
] as const

export const media: readonly Medium[] = ['air', 'nitrogen', 'avgas', 'mogas', 'jet-a']

export function readSection(view: MapView): Section | null {
  const id = view.requiredText('id')
  const medium = view.word('medium', media, true)
  const volume = toleranced(view, 'volume', { dimension: 'volume' }, true)
  const volumeToleranceM3 = volume?.tolerance ?? 0
  if (volume && volume.value <= 0) view.error('volume', 'must be more than zero')
  else if (volume && volumeToleranceM3 >= volume.value)
    view.error('volume', 'its tolerance reaches down to zero')

  const maxPressurePa = positiveQuantity(view, 'max-pressure', { dimension: 'pressure', reference: 'gauge' })
  const maxVacuumPa = positiveQuantity(view, 'max-vacuum', { dimension: 'pressure', reference: 'gauge' })
  if (maxVacuumPa !== null && maxVacuumPa > standardAtmospherePa) {
    view.error('max-vacuum', 'is more than one atmosphere, which no vacuum reaches')
  }
  const stretchPerPa = quantity(view, 'stretch', { dimension: 'stretch' })
  if (stretchPerPa !== null && stretchPerPa < 0)
    view.error('stretch', 'a volume does not shrink under pressure')

  const capacityM3 = positiveQuantity(view, 'capacity', { dimension: 'volume' })
  const unusableM3 = quantity(view, 'unusable', { dimension: 'volume' })
  if (unusableM3 !== null && unusableM3 < 0) view.error('unusable', 'cannot be negative')
  if (unusableM3 !== null && capacityM3 !== null && unusableM3 >= capacityM3) {
    view.error('unusable', 'is not less than the capacity')
  }
  const kind = view.word('kind', ['line', 'tank', 'rig'] as const, false)
  if (id === null || medium === null || volume === null) return null
  return {
    id,
    medium,
    volumeM3: volume.value,
    volumeToleranceM3,
    maxPressurePa,
    maxVacuumPa,
    stretchPerPa,
    kind,
    capacityM3,
    unusableM3,
  }
}
