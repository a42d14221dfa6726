import type { HoldSpec, System } from '#analysis/model/system.ts'
import { holdCautions, overdueCalibrations, whyNotPlanned } from '#analysis/reasons/hold-cautions.ts'
import { t } from '#analysis/reasons/language.ts'
import { pressure, withUnit } from '../quantity.ts'

const shown = (pa: number): string => withUnit(pa, pressure(), 2)

/** Cautions omitted because the state sheet asks for them. */
const onStateSheet = ['shut-valves', 'remove-plugs']

/** The cautions of a hold, in the reader's units; the same sentences as in the command and the report. */
export const cautionsFor = (spec: HoldSpec, system: System): readonly string[] => [
  ...overdueCalibrations(spec, system, new Date().toISOString().slice(0, 10)),
  ...holdCautions(spec, system, shown)
    .filter(({ topic }) => !onStateSheet.includes(topic))
    .map(({ message }) => message),
]

/** Why this hold must not start; null: it may. */
export const refusalFor = (spec: HoldSpec, system: System): string | null =>
  whyNotPlanned(spec, system, shown)

/** Whether the hold tests a section with gas, which must be dry: rising vapor hides a leak. */
export const isOfGas = (spec: HoldSpec, system: System): boolean =>
  system.sections.some(
    ({ id, medium }) => spec.sections.includes(id) && (medium === 'air' || medium === 'nitrogen'),
  )

/** The state sheet: what must be shut, capped and open for this hold. */
export function sheetFor(spec: HoldSpec, system: System, dry: boolean): readonly string[] {
  const shut = spec.shut.map((id) => {
    const valve = system.valves.find((one) => one.id === id)
    return t`${id} (${valve?.name ?? t`not in the file`}) is shut`
  })
  const openInside = system.valves
    .filter((one) => !spec.shut.includes(one.id) && one.between.length > 1)
    .filter((one) => one.between.every((section) => spec.sections.includes(section)))
    .map((one) => t`${one.id} (${one.name}) is open`)
  return [
    ...shut,
    ...openInside,
    t`Every plug and cap put in is written down`,
    t`Gauge and thermometer are on this side of every valve`,
    ...(isOfGas(spec, system)
      ? []
      : [
          t`A syringe of known volume is connected. While it settles a known amount is pushed in: without it hardly any leak of a full line is decided`,
        ]),
    ...(dry && isOfGas(spec, system) ? [t`The section is dry, and purged of fuel and its vapor`] : []),
    t`Doors shut, no sun on the part, hands off`,
  ]
}
