import { type HoldSpec, isTank, type Section, type System } from '#analysis/model/system.ts'
import { inDigits, t } from './language.ts'

/** One sentence of advice with its source. */
export interface PlanAdvice {
  readonly topic: string
  readonly message: string
  /** Standard, rule or practice behind it; null for our own. */
  readonly source: string | null
}

/** Least margin between test pressure and limit for a relief valve, as a share of the test pressure; own figure. */
const leastRoom = 0.1
/** A water leg opens without a spread, so a small margin is enough. */
const leastRoomOfWaterLeg = 0.02
/** A relief is set halfway to the limit, at most 1.5 psi above the test pressure, and opens within a third of that. */
const reliefAbovePa = 1.5 * 6894.757293
const reliefSpread = 1 / 3
/** Water at 4 °C: 1000 kg/m³ under standard gravity, [Pa/m]. */
const waterPaPerM = 9806.65
/** Largest pressure for a water leg of practical height, [Pa]. Own figure. */
const waterLegUpToPa = 20e3

const sectionsOf = (spec: HoldSpec, system: System): readonly Section[] =>
  system.sections.filter(({ id }) => spec.sections.includes(id))

const limitOf = (spec: HoldSpec, section: Section): number | null =>
  spec.pressurePa < 0 ? section.maxVacuumPa : section.maxPressurePa

/** Opening pressure of a hold's relief, [Pa], between test pressure and lowest limit. */
export function reliefSetting(
  pressurePa: number,
  limitPa: number | null,
): { readonly setPa: number; readonly spreadPa: number } {
  const above = Math.min(reliefAbovePa, limitPa === null ? reliefAbovePa : (limitPa - pressurePa) / 2)
  return { setPa: pressurePa + above, spreadPa: above * reliefSpread }
}

/**
 * Why a hold is neither planned nor started: a tank without a stated limit, or no margin for a relief between test pressure
 * and limit. One sentence; null when nothing forbids it.
 *
 * @param shown a pressure in the reader's units
 */
export function whyNotPlanned(spec: HoldSpec, system: System, shown: (pa: number) => string): string | null {
  const suction = spec.pressurePa < 0
  const testPa = Math.abs(spec.pressurePa)
  for (const section of sectionsOf(spec, system)) {
    const limit = limitOf(spec, section)
    const key = suction ? 'max-vacuum' : 'max-pressure'
    if (limit === null) {
      if (isTank(section))
        return t`${spec.id} is not planned: the file states no ${key} for the tank ${section.id}. Find the maker’s figure and enter it.`
      continue
    }
    const needed = testPa * (isTank(section) ? leastRoomOfWaterLeg : leastRoom)
    if (limit - testPa < needed)
      return t`${spec.id} is not planned: between its ${shown(testPa)} and the limit of ${section.id}, ${shown(limit)}, there is no room for a relief. Lower the test pressure.`
  }
  return null
}

/**
 * Safety cautions, the same sentences for page, command and report; the maker's instructions come first.
 *
 * Source: [us-army-al0907], [uscg-fuel-guide] 15.5.8
 */
export function holdCautions(spec: HoldSpec, system: System, shown: (pa: number) => string): PlanAdvice[] {
  const out: PlanAdvice[] = []
  const say = (topic: string, message: string, source: string | null = null): void => {
    out.push({ topic, message, source })
  }
  const sections = sectionsOf(spec, system)
  const suction = spec.pressurePa < 0
  const limits = sections.flatMap((section) => {
    const limit = limitOf(spec, section)
    return limit === null ? [] : [{ section, limit }]
  })
  if (limits.length > 0)
    say(
      'limits',
      t`Limits first: never ${suction ? t`a deeper vacuum` : t`more`} than ${limits.map(({ section, limit }) => `${section.id} ${shown(limit)}`).join(', ')}. The kit or airframe maker’s figure takes precedence.`,
    )
  for (const { section, limit } of limits)
    if (Math.abs(spec.pressurePa) > limit)
      say(
        'over-limit',
        suction
          ? t`The test vacuum is deeper than the stated limit of ${section.id}: do not draw it down so far.`
          : t`The test pressure is above the stated limit of ${section.id}: do not pump it up so far.`,
      )
  for (const section of sections)
    if (limitOf(spec, section) === null)
      say(
        'limit-unknown',
        suction
          ? t`The file states no max-vacuum for ${section.id}: find the maker’s figure before drawing it down. Thin walls and tanks buckle at far less vacuum than the pressure they withstand.`
          : t`The file states no limit for ${section.id}: find the maker’s figure before pumping up.`,
      )
  if (suction)
    say(
      'vacuum-breaker',
      t`Fit a vacuum breaker that lets air in before any section reaches its limit, and draw it down slowly.`,
    )
  else reliefCautions(spec, sections, limits, shown, say)
  const shut = spec.shut.map((id) => system.valves.find((v) => v.id === id)?.name || id)
  if (shut.length > 0)
    say('shut-valves', t`Shut before ${suction ? t`drawing down` : t`pumping up`}: ${shut.join(', ')}.`)
  say(
    'no-ignition',
    sections.some(({ medium }) => medium !== 'air' && medium !== 'nitrogen')
      ? t`The section contains fuel: no ignition source near, an extinguisher at hand, catch all drips.`
      : suction
        ? t`The pump draws in any remaining vapor: purge first, let the pump exhaust outdoors, no ignition source near.`
        : t`Use dry inert gas where there was fuel or vapor; no ignition source near.`,
  )
  say(
    'eye-protection',
    suction
      ? t`Wear eye protection; keep hands and face away from caps and thin walls: they buckle suddenly.`
      : t`Wear eye protection; stand clear of caps and tank ends.`,
  )
  say(
    'never-tighten',
    t`Never tighten or open a fitting under ${suction ? t`vacuum` : t`pressure`}: vent first.`,
    'US Army AL0907',
  )
  say('remove-plugs', t`Write down every plug and cap that goes in, and take each out again.`)
  say(
    'maker-first',
    t`The kit or airframe maker’s instructions, local rules and licensed practice come first.`,
  )
  return out
}

function reliefCautions(
  spec: HoldSpec,
  sections: readonly Section[],
  limits: readonly { readonly section: Section; readonly limit: number }[],
  shown: (pa: number) => string,
  say: (topic: string, message: string, source?: string | null) => void,
): void {
  const limit = limits.length === 0 ? null : Math.min(...limits.map((one) => one.limit))
  const { setPa, spreadPa } = reliefSetting(spec.pressurePa, limit)
  if (limit === null || limit > spec.pressurePa)
    say(
      'relief-valve',
      t`Fit a relief between supply and section that opens at ${shown(setPa)} ± ${shown(spreadPa)}: above the test pressure${limit === null ? '' : t` and below the lowest limit, ${shown(limit)}`}.`,
      t`33 CFR 183.542 laboratory procedure 15.5.8 gives ${shown(reliefAbovePa)} ± ${shown(reliefAbovePa * reliefSpread)} for a ${shown(2 * reliefAbovePa)} test; halved where the limit is nearer`,
    )
  const tank = sections.some(isTank)
  if (tank && setPa <= waterLegUpToPa)
    say(
      'water-leg',
      t`For a tank an open water leg (a U-tube or a hose dipped into water) serves as gauge and relief: ${inDigits(setPa / waterPaPerM, 2)} m of water opens at ${shown(setPa)}.`,
      t`common practice`,
    )
  say(
    'no-compressor',
    tank
      ? t`Never connect a shop compressor to a tank: fill it by hand pump or by mouth through the hose, never inhaling.`
      : t`No shop compressor without a regulator and a relief behind it.`,
    tank ? t`a light aircraft’s maintenance manual, 28-10, as read` : t`common practice`,
  )
}

/**
 * Gauges and thermometers of a hold with overdue calibration: reported before pump-up, one sentence each.
 *
 * @param today ISO date
 */
export function overdueCalibrations(spec: HoldSpec, system: System, today: string): string[] {
  const used = [...spec.sections, ...(spec.rig === null ? [] : [spec.rig])]
  return system.channels.flatMap(({ id, section, calibration }) => {
    const due = calibration?.due
    if (!due || due >= today || (section !== null && !used.includes(section))) return []
    return [t`The calibration of ${id} was due on ${due}. Have it calibrated before this hold.`]
  })
}

/** Safety cautions for a printed page that names no single hold. */
export const cautionsOfEveryHold =
  'Before a hold: the lowest limit of tank, hose and sender comes first, with a relief that opens between the test pressure ' +
  'and that limit; no shop compressor without a regulator and a relief. Near fuel vapor use dry inert gas and keep every ' +
  'ignition source away. Wear eye protection. Never tighten or open a fitting under pressure. Afterwards take out every ' +
  'plug and cap that was put in.'
