import {
  type Allowance,
  type Check,
  type Fitting,
  fittingKinds,
  type HoldSpec,
  media,
  type Section,
  type Valve,
  valveKinds,
} from '#analysis/model/system.ts'
import { standardAtmospherePa } from '#analysis/physics/ideal-gas.ts'
import { parseQuantity } from '#analysis/physics/quantity.ts'
import {
  gauge,
  later,
  mapping,
  must,
  names,
  nested,
  type Opened,
  positive,
  positiveAt,
  quantity,
  quantityOf,
  spanAt,
  text,
  textSchema,
  toleranced,
  tolerancedAt,
  word,
} from './description.ts'
import type { MapView } from './file-view.ts'

export const section = mapping({
  id: must(text('Name in every result and report, such as left-feed.')),
  kind: word(
    'A tank is thin and stretches: it is held at low pressure for long. A rig is your own hose and gauge. Judged from the volume when absent.',
    ['line', 'tank', 'rig'],
  ),
  medium: must(word('Dry air or nitrogen shows a leak soonest. Never pressurize over fuel vapor.', media)),
  volume: must(
    toleranced(
      'It determines how far a leak lowers the pressure. Measured, or from hose size and length, with its tolerance, such as 0.35 L ± 10 %.',
      'volume',
    ),
  ),
  'max-pressure': positive(
    'Of its weakest part, from its maker: the page warns before it is reached.',
    gauge,
  ),
  'max-vacuum': positive('below the atmosphere', gauge),
  stretch: quantity('growth with pressure, such as 0 % per bar; unknown when absent', 'stretch'),
  capacity: positive('Of a tank, for the fuel checks.', 'volume'),
  unusable: quantity('of a tank', 'volume'),
})

export function readSection({ view, value }: Opened<typeof section>): Section | null {
  const { id, medium, volume, stretch, kind, capacity, unusable } = value
  const volumeToleranceM3 = volume?.tolerance ?? 0
  if (volume && volume.value <= 0) view.error('volume', 'must be more than zero')
  else if (volume && volumeToleranceM3 >= volume.value)
    view.error('volume', 'its tolerance reaches down to zero')
  const maxVacuumPa = value['max-vacuum']
  if (maxVacuumPa !== null && maxVacuumPa > standardAtmospherePa)
    view.error('max-vacuum', 'is more than one atmosphere, which no vacuum reaches')
  if (stretch !== null && stretch < 0) view.error('stretch', 'a volume does not shrink under pressure')
  if (unusable !== null && unusable < 0) view.error('unusable', 'cannot be negative')
  if (unusable !== null && capacity !== null && unusable >= capacity)
    view.error('unusable', 'is not less than the capacity')
  if (id === null || medium === null || volume === null) return null
  return {
    id,
    medium,
    volumeM3: volume.value,
    volumeToleranceM3,
    maxPressurePa: value['max-pressure'],
    maxVacuumPa,
    stretchPerPa: stretch,
    kind,
    capacityM3: capacity,
    unusableM3: unusable,
  }
}

export const fitting = mapping({
  id: must(text('Name on the drawing and in the ledger, such as F07.')),
  name: text('What people call it, such as selector inlet left.'),
  section: must(text('A hold of this section proves the fitting.')),
  kind: word('Some kinds leak more often: the hunt looks there first.', fittingKinds),
  size: text('Dash size or thread, such as -6 or 1/4 NPT.'),
  material: word('of the tube', ['aluminium', 'steel']),
  torque: {
    schema: textSchema('From the maker, such as 11 N·m to 14 N·m: marked work is compared with it.'),
    read: (view, key) => spanAt(view, key, { dimension: 'torque' }, true),
  },
  behind: names('fittings to be opened to reach it', { type: ['array', 'string'] }),
})

export function readFitting({ view, value }: Opened<typeof fitting>): Fitting | null {
  const { id, section, kind, size, name, material, torque: torqueNm, behind } = value
  if (torqueNm !== null && torqueNm[0] <= 0) view.error('torque', 'must be more than zero')
  if (id === null || section === null) return null
  return { id, section, kind: kind ?? 'other', size, name: name ?? id, material, torqueNm, behind }
}

export const valve = mapping({
  id: must(text('Name on the drawing and in each hold that shuts it, such as V2.')),
  name: text('What people call it, such as fuel selector.'),
  between: must(
    names('The two sections it separates; one for a cap, vent or plug to the outside.', {
      minItems: 1,
      maxItems: 2,
    }),
    'own',
  ),
  kind: word('A cap or plug must come out again: the page remembers it.', valveKinds),
})

export function readValve({ view, value }: Opened<typeof valve>): Valve | null {
  const { id, between, name, kind } = value
  if (between.length < 1 || between.length > 2)
    view.error('between', 'name the two sections it separates, or one for a cap to the outside')
  else if (between[0] === between[1]) view.error('between', `names "${between[0]}" twice`)
  return id === null ? null : { id, between, name: name ?? id, kind }
}

const allowance = mapping({
  drop: positive(
    'Fall of pressure in the hold time that still passes. The maker’s figure comes first.',
    'pressure',
  ),
  rise: positive('of a suction hold', 'pressure'),
  leak: later(textSchema('such as 0.2 scc/min')),
})

export const hold = mapping({
  id: must(text('Name in records and reports, such as left-feed-10psi.')),
  sections: must(names('Under pressure: everything between the shut valves.')),
  shut: names('Valves and caps that close these sections; the state sheet asks for them.'),
  pressure: must(
    quantity('Test pressure from the maker, never over the limit of a section; negative for suction.', gauge),
  ),
  settle: must(quantity('The heat of pumping must fade first: lines 2 min, tanks 15 min.', 'time')),
  hold: must(positive('A longer hold detects smaller leaks; the plan gives the time needed.', 'time')),
  time: word('prescribed when absent', ['prescribed', 'until-decided']),
  allow: must(nested(allowance)),
  source: text('Source of the allowance, printed in the report beside the verdict.'),
  rig: text('section of kind rig that is under pressure too'),
  proof: word('whether a pass needs a proof of the bench', ['required', 'optional']),
})

/** @param molPerStandardM3 mol in a cubic metre at the file's reference, [mol/m³] */
export function readHold({ view, value }: Opened<typeof hold>, molPerStandardM3: number): HoldSpec | null {
  const { id, sections, shut, pressure: pressurePa, settle: settleS, hold: holdS, time, proof } = value
  if (pressurePa === 0) view.error('pressure', 'a hold at zero pressure shows nothing')
  if (pressurePa !== null && pressurePa <= -standardAtmospherePa)
    view.error('pressure', 'is a full atmosphere or more below the outside, which no vacuum reaches')
  if (settleS !== null && settleS < 0) view.error('settle', 'cannot be negative')
  const allow = value.allow && readAllowance(value.allow, view, pressurePa, molPerStandardM3)
  if (id === null || pressurePa === null || settleS === null || holdS === null || allow === null) return null
  return {
    id,
    sections,
    shut,
    pressurePa,
    settleS,
    holdS,
    time: time ?? 'prescribed',
    allow,
    allowSource: value.source,
    rig: value.rig,
    ...(proof === null ? {} : { proof }),
  }
}

function readAllowance(
  { view, value }: Opened<typeof allowance>,
  hold: MapView,
  pressurePa: number | null,
  molPerStandardM3: number,
): Allowance | null {
  const given = (['drop', 'rise', 'leak'] as const).filter((kind) => view.node(kind) !== null)
  const [kind, ...others] = given
  if (kind === undefined || others.length > 0) {
    hold.error('allow', 'give exactly one of drop, rise, leak, like { drop: 0.1 psi }')
    return null
  }
  if (kind === 'leak') return readLeak(view, molPerStandardM3)
  const dropPa = value[kind]
  if (dropPa === null) return null
  if (pressurePa !== null && pressurePa < 0 !== (kind === 'rise'))
    view.error(
      kind,
      pressurePa < 0 ? 'a suction hold rises: write rise' : 'a hold above the outside drops: write drop',
    )
  else if (pressurePa !== null && dropPa >= Math.abs(pressurePa))
    view.error(kind, 'allows the whole test pressure to be lost')
  return { kind, dropPa }
}

/** The unit distinguishes a standard gas flow (`scc/min`) from a liquid flow (`mL/min`). */
function readLeak(view: MapView, molPerStandardM3: number): Allowance | null {
  const free = parseQuantity(view.text('leak') ?? '')
  const isLiquid = !('fault' in free) && free.dimension === 'volume-flow'
  const rate = positiveAt(view, 'leak', { dimension: isLiquid ? 'volume-flow' : 'gas-flow' })
  if (rate === null) return null
  return isLiquid
    ? { kind: 'liquid-leak', m3PerS: rate }
    : { kind: 'gas-leak', molPerS: rate * molPerStandardM3 }
}

export const check = mapping({
  id: must(text('such as K1')),
  kind: must(word('kind of check', ['known-leak', 'known-volume'])),
  section: must(text('section it is on')),
  rate: later(textSchema('of a known leak: 0.5 scc/min ± 5 % at 10 psi')),
  volume: later(textSchema('of a known volume: 10 mL ± 1 %')),
})

/** A known leak without a stated uncertainty counts as made by eye; a syringe has its scale. Own figures. */
const unstatedTolerance = { 'known-leak': 0.1, 'known-volume': 0.03 } as const
/** Maximum tolerance of a check: with more it proves nothing within a quarter. */
const mostTolerance = 0.15

/** @param molPerStandardM3 mol in a cubic metre at the file's reference, [mol/m³] */
export function readCheck({ view, value }: Opened<typeof check>, molPerStandardM3: number): Check | null {
  const { id, kind, section } = value
  if (kind === null) return null
  const [own, other] = kind === 'known-leak' ? (['rate', 'volume'] as const) : (['volume', 'rate'] as const)
  if (view.node(other) !== null) view.error(other, `a ${kind} has a ${own}`)
  if (view.node(own) === null) view.missing(own)
  const written = view.text(own)
  if (id === null || section === null || written === null) return null
  const complain = (wrong: string): void => view.error(own, wrong)
  if (kind === 'known-volume') {
    const volume = tolerancedAt(view, 'volume', { dimension: 'volume' })
    if (volume === null || !isSize(volume.value, complain)) return null
    return { id, kind, section, volumeM3: volume.value, tolerance: share(volume, kind, complain) }
  }
  const [rateText = '', atText] = written.split(/\s+at\s+/)
  if (atText === undefined) {
    complain(`"${written}" lacks its pressure; write it like "0.5 scc/min ± 5 % at 10 psi"`)
    return null
  }
  const rate = quantityOf(rateText, { dimension: 'gas-flow' }, complain)
  const at = quantityOf(atText, gauge, complain)
  if (rate === null || at === null || !isSize(rate.value, complain)) return null
  if (at.value === 0 || at.value <= -standardAtmospherePa) complain('nothing flows at zero pressure')
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
