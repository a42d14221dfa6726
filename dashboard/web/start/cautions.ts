import type { HoldSpec, Section, System } from '#analysis/model/system.ts'
import { pressure, withUnit } from '../quantity.ts'
import { isSuction, limitPa } from '../suction.ts'

/** What can hurt somebody, said before anything is pumped up; the maker's instructions come first. */
export function cautionsFor(spec: HoldSpec, system: System): readonly string[] {
  const sections = system.sections.filter((one) => spec.sections.includes(one.id))
  const gas = sections.some((one) => one.medium === 'air' || one.medium === 'nitrogen')
  const suction = isSuction(spec)
  const limit = (one: Section): number | null => limitPa(spec, [one])
  const limits = sections
    .filter((one) => limit(one) !== null)
    .map((one) => `${one.id} ${withUnit(limit(one), pressure(), 2)}`)
  const unlimited = sections.filter((one) => limit(one) === null).map((one) => one.id)
  return [
    limits.length > 0
      ? `Limits first: never ${suction ? 'below' : 'over'} ${limits.join(', ')}. The kit or airframe maker’s figure comes before this one.`
      : '',
    unlimited.length > 0
      ? `The system file states no ${suction ? 'deepest vacuum' : 'maximum pressure'} for ${unlimited.join(', ')}: find the maker’s figure before you pump.`
      : '',
    suction
      ? 'A vacuum breaker that lets air in a little below the test pressure is fitted between the pump and the section.'
      : 'A relief valve set a little above the test pressure is fitted between the supply and the section.',
    suction
      ? 'What vapor is left is drawn through the pump: purge first, let it blow off outdoors. No ignition source near.'
      : gas
        ? 'No fuel or vapor inside: dry inert gas where there was fuel. No ignition source near, no open vapor.'
        : 'Fuel is in the line: no ignition source near, an extinguisher at hand, catch what drips.',
    suction
      ? 'Eye protection on. Hands and face away from caps and thin walls: what buckles does so at once.'
      : 'Eye protection on. Nobody in front of a cap or a tank end.',
    `No fitting is tightened or opened under ${suction ? 'vacuum' : 'pressure'}: vent first.`,
    'Local rules and the licensed person in charge have the last word.',
  ].filter((one) => one !== '')
}

/** The state sheet: what must be shut, capped and open for this hold. */
export function sheetFor(spec: HoldSpec, system: System): readonly string[] {
  const shut = spec.shut.map((id) => {
    const valve = system.valves.find((one) => one.id === id)
    const [one, other] = valve?.between ?? []
    const does =
      other !== undefined ? `: parts ${one} from ${other}` : one !== undefined ? `: ends ${one}` : ''
    return `${id}${valve ? ` (${valve.name})` : ''} is shut${does}`
  })
  const openInside = system.valves
    .filter((one) => !spec.shut.includes(one.id) && one.between.length > 1)
    .filter((one) => one.between.every((section) => spec.sections.includes(section)))
    .map((one) => `${one.id} (${one.name}) is open`)
  return [
    ...shut,
    ...openInside,
    'Every plug and cap that was put in is written down, to be taken out again',
    'Gauge and thermometer sit on the section itself, on this side of every valve',
    'Doors shut, no sun on the part, nobody touches it during the hold',
  ]
}
