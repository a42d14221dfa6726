import type { Valve } from '#analysis/model/system.ts'
import type { MapView } from './file-view.ts'

export const valveKeys = ['id', 'between', 'name', 'kind'] as const

export function readValve(view: MapView): Valve | null {
  const id = view.requiredText('id')
  const between = view.words('between')
  if (between.length < 1 || between.length > 2) {
    view.error('between', 'name the two sections it parts, or one for a cap to the outside')
  } else if (between[0] === between[1]) {
    view.error('between', `names "${between[0]}" twice`)
  }
  const kind = view.word(
    'kind',
    ['selector', 'shut-off', 'check', 'cap', 'pump', 'gauge-cock'] as const,
    false,
  )
  const name = view.text('name') ?? id
  if (id === null || name === null) return null
  return { id, between, name, kind }
}
