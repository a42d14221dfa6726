import type { Allowance, HoldSpec } from '#analysis/model/system.ts'
import { standardAtmospherePa } from '#analysis/physics/ideal-gas.ts'
import { parseQuantity } from '#analysis/physics/quantity.ts'
import type { MapView } from './file-view.ts'
import { positiveQuantity, quantity } from './read-quantity.ts'

export const holdKeys = [
  'id',
  'sections',
  'shut',
  'pressure',
  'settle',
  'hold',
  'time',
  'allow',
  'source',
  'rig',
  'proof',
] as const

/** @param molPerStandardM3 mol in a cubic metre at the file's reference, [mol/m³] */
export function readHold(view: MapView, molPerStandardM3: number): HoldSpec | null {
  const id = view.requiredText('id')
  view.required('sections')
  const sections = view.words('sections')
  const shut = view.words('shut')
  const pressurePa = quantity(view, 'pressure', { dimension: 'pressure', reference: 'gauge' }, true)
  if (pressurePa === 0) view.error('pressure', 'a hold at no pressure shows nothing')
  if (pressurePa !== null && pressurePa <= -standardAtmospherePa) {
    view.error('pressure', 'is a full atmosphere or more below the outside, which no vacuum reaches')
  }
  const settleS = quantity(view, 'settle', { dimension: 'time' }, true)
  if (settleS !== null && settleS < 0) view.error('settle', 'cannot be negative')
  const holdS = positiveQuantity(view, 'hold', { dimension: 'time' }, true)
  const time = view.word('time', ['prescribed', 'until-decided'], false)
  const allow = readAllowance(view, pressurePa, molPerStandardM3)
  if (id === null || pressurePa === null || settleS === null || holdS === null || allow === null) return null
  const allowSource = view.text('source')
  const proof = view.word('proof', ['required', 'optional'] as const, false)
  return {
    id,
    sections,
    shut,
    pressurePa,
    settleS,
    holdS,
    time: time ?? 'prescribed',
    allow,
    allowSource,
    rig: view.text('rig'),
    ...(proof === null ? {} : { proof }),
  }
}

function readAllowance(hold: MapView, pressurePa: number | null, molPerStandardM3: number): Allowance | null {
  const node = hold.required('allow')
  if (node === null) return null
  const view = hold.file.open(node, `${hold.what}: allow`, ['drop', 'rise', 'leak'])
  if (view === null) return null
  const given = (['drop', 'rise', 'leak'] as const).filter((kind) => view.node(kind) !== null)
  if (given.length !== 1) {
    hold.error('allow', 'give exactly one of drop, rise, leak, like { drop: 0.1 psi }')
    return null
  }
  const kind = given[0]
  if (kind === 'leak') return readLeak(view, molPerStandardM3)
  const dropPa = positiveQuantity(view, kind, { dimension: 'pressure' })
  if (dropPa === null) return null
  if (pressurePa !== null && pressurePa < 0 !== (kind === 'rise')) {
    const wanted =
      pressurePa < 0 ? 'a suction hold rises: write rise' : 'a hold above the outside drops: write drop'
    view.error(kind, wanted)
  } else if (pressurePa !== null && dropPa >= Math.abs(pressurePa)) {
    view.error(kind, 'allows the whole test pressure to be lost')
  }
  return { kind, dropPa }
}

/** The unit tells a standard gas flow (`scc/min`) from a liquid flow (`mL/min`). */
function readLeak(view: MapView, molPerStandardM3: number): Allowance | null {
  const text = view.text('leak')
  if (text === null) return null
  const free = parseQuantity(text)
  const isLiquid = !('fault' in free) && free.dimension === 'volume-flow'
  const rate = positiveQuantity(view, 'leak', { dimension: isLiquid ? 'volume-flow' : 'gas-flow' })
  if (rate === null) return null
  return isLiquid
    ? { kind: 'liquid-leak', m3PerS: rate }
    : { kind: 'gas-leak', molPerS: rate * molPerStandardM3 }
}
