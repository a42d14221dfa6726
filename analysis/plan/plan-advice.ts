import { liquidCaution } from '#analysis/faults/liquid-caution.ts'
import type { PlanAdvice } from '#analysis/model/plan.ts'
import type { Channel, HoldSpec, Section, System } from '#analysis/model/system.ts'
import { isLiquid } from '#analysis/physics/fuel-properties.ts'
import { toUnit } from '#analysis/physics/units.ts'
import { unitsOfSystem } from '#analysis/reasons/figures.ts'
import { phrase } from '#analysis/reasons/phrase.ts'
import { assumed } from './rehearsed-hold.ts'

const gallonM3 = 3.785411784e-3
const boatRule = '33 CFR 183.542 and its laboratory procedure'

/**
 * Hold time of the boat fuel-system rule, [min]: 5, and 1 more for each 10 gal or part of it above 50 gal.
 *
 * *Source* 33 CFR 183.542, laboratory procedure. *Check* 50 → 5, 51 → 6, 61 → 7, 100 → 10 min.
 */
export function boatRuleMinutes(volumeM3: number): number {
  const gallons = volumeM3 / gallonM3
  return 5 + Math.max(0, Math.ceil((gallons - 50) / 10 - 1e-9))
}

/** Two runs in a row agree within 12.5 mmH2O (conventional, 4 °C), [Pa]. *Source* EPA Method 27. */
const runsAgreePa = 12.5 * 9.80665

/** Published waits and ways, with their sources; written for pressure, said of suction where they bear on it. */
export function planWaits(
  spec: Pick<HoldSpec, 'pressurePa'>,
  sections: readonly Section[],
  gauge: Channel | undefined,
  allowedPa: number,
): PlanAdvice[] {
  const volumeM3 = sections.reduce((sum, section) => sum + section.volumeM3, 0)
  const suction = spec.pressurePa < 0
  const shown = (pa: number): string => pressureIn(pa, gauge)
  return [
    {
      topic: 'wait-steady',
      message: 'Keep the surroundings steady for 2 h before, and settle at least 5 min.',
      source: boatRule,
    },
    {
      topic: 'wait-hold',
      message: `Hold at least ${boatRuleMinutes(volumeM3)} min for this volume (5 min, and 1 min more for each 10 gal or part of it above 50 gal); if nothing ${suction ? 'rises' : 'drops'}, still search every joint.`,
      source: boatRule,
    },
    {
      topic: 'wait-ramp',
      message: suction
        ? 'Draw tanks down no faster than 0.5 psi a minute, as the rule says of pumping them up.'
        : 'Pump tanks up no faster than 0.5 psi a minute.',
      source: boatRule,
    },
    {
      topic: 'gauge-span',
      message: `Take a gauge whose span is at most 3 times the test pressure: ${shown(3 * Math.abs(spec.pressurePa))}.`,
      source: boatRule,
    },
    {
      topic: 'gauge-fine',
      message: `The gauge's steps should be 10 times finer than the allowance (${shown(allowedPa / 10)}), its accuracy 4 times (${shown(allowedPa / 4)}), and the whole change under 10 % of the pressure.`,
      source: 'ASTM E2930, scope as read',
    },
    {
      topic: 'hold-twice',
      message: `Hold twice: two runs in a row should agree within 12.5 mmH2O (${shown(runsAgreePa)}).`,
      source: 'EPA Method 27, for delivery tanks',
    },
    {
      topic: 'prove-rig',
      message: 'Prove the rig alone before the section.',
      source: '33 CFR 183.542 test procedure; builders’ practice',
    },
    {
      topic: 'known-leak',
      message:
        'To prove the bench itself, let a known leak out and see that the result finds it within 25 % of the allowance.',
      source: '10 CFR 50 App. J with ANSI/ANS-56.8, from memory',
    },
  ]
}

/** A pressure as the gauge shows it and in pascal. */
function pressureIn(pa: number, gauge: Channel | undefined): string {
  const inPa = `${Number(pa.toPrecision(3))} Pa`
  return gauge === undefined || gauge.scale !== null || gauge.unit === 'Pa'
    ? inPa
    : `${Number(toUnit(pa, gauge.unit, 'pressure').toPrecision(2))} ${gauge.unit}, ${inPa}`
}

/** What can hurt somebody or the section; the maker's instructions come first. */
export function planCautions(system: System, spec: HoldSpec, sections: readonly Section[]): PlanAdvice[] {
  const out: PlanAdvice[] = []
  const say = (topic: string, message: string, source: string | null = null): void => {
    out.push({ topic, message, source })
  }
  const suction = spec.pressurePa < 0
  for (const section of sections) {
    const limit = suction ? section.maxVacuumPa : section.maxPressurePa
    if (limit === null)
      say(
        'limit-unknown',
        suction
          ? `The file states no max-vacuum for ${section.id}: find the maker's figure before drawing it down. Thin walls and tanks buckle under far less vacuum than they bear of pressure.`
          : `The file states no limit for ${section.id}: find the maker's figure before pumping up.`,
      )
    else if (Math.abs(spec.pressurePa) > limit)
      say(
        'over-limit',
        suction
          ? `The test vacuum is deeper than the stated limit of ${section.id}: do not draw it down so far.`
          : `The test pressure is above the stated limit of ${section.id}: do not pump it up so far.`,
      )
    const wet = liquidCaution(section, spec)
    if (wet !== null) say(wet.code, phrase(wet, unitsOfSystem(system)))
  }
  if (suction)
    say(
      'vacuum-breaker',
      'Fit a vacuum breaker that lets air in before any section comes to its limit, and draw it down slowly.',
    )
  else
    say(
      'relief-valve',
      'Fit a relief valve that opens 1.5 ± 0.5 psi above the test pressure, below the limit of every section.',
      boatRule,
    )
  const shut = spec.shut.map((id) => system.valves.find((v) => v.id === id)?.name || id)
  if (shut.length > 0)
    say('shut-valves', `Shut before ${suction ? 'drawing down' : 'pumping up'}: ${shut.join(', ')}.`)
  say(
    'no-ignition',
    sections.some((section) => isLiquid(section.medium))
      ? 'Fuel is in it: no ignition source near, an extinguisher at hand, catch what drips.'
      : suction
        ? 'Vapor that is left is drawn through the pump: purge first, let the pump blow off outdoors, no ignition source near.'
        : 'Use dry inert gas where there was fuel or vapor; no ignition source near.',
  )
  say(
    'eye-protection',
    suction
      ? 'Wear eye protection; keep hands and face from caps and thin walls: what buckles does so at once.'
      : 'Wear eye protection; stand clear of caps and tank ends.',
  )
  say(
    'never-tighten',
    `Never tighten a fitting under pressure${suction ? ' or vacuum' : ''}: vent first.`,
    'US Army AL0907',
  )
  say('remove-plugs', 'Write down every plug and cap that goes in, and take each out again.')
  say(
    'maker-first',
    "The kit or airframe maker's instructions, local rules and licensed practice come first.",
  )
  return out
}

/** What the plan had to assume because the file does not say it. */
export function planAssumptions(
  system: System,
  sections: readonly Section[],
  gauge: Channel | undefined,
  bench: { readonly sampleHz: number; readonly driftKPerH: number },
): PlanAdvice[] {
  const said: string[] = [
    `${bench.sampleHz} reading${bench.sampleHz === 1 ? '' : 's'} a second`,
    `a room that drifts by ${bench.driftKPerH} K an hour`,
  ]
  if (gauge !== undefined && gauge.resolutionSi === null)
    said.push(
      gauge.rangeSi === null
        ? `a gauge of ${assumed.spans} times the test pressure in ${assumed.steps} steps (no range or resolution is stated)`
        : `a gauge that reads its span in ${assumed.steps} steps (no resolution is stated)`,
    )
  const thermometers = system.channels.filter(
    (c) => c.measures === 'temperature' && sections.some(({ id }) => id === c.section),
  )
  if (thermometers.length > 0) {
    const step = thermometers[0].resolutionSi
    said.push(
      `a thermometer with ${assumed.thermometerK} K of noise` +
        (step === null ? ` and steps of ${assumed.thermometerStepK} K (no resolution is stated)` : ''),
    )
  }
  if (gauge !== undefined) said.push(`gauge noise of ${assumed.whiteSteps} steps, and no drift of its zero`)
  for (const { id, medium, stretchPerPa, kind } of sections) {
    if (isLiquid(medium))
      said.push(
        `${100 * assumed.air} % of air in ${id}${stretchPerPa === null ? ', walls that hardly stretch,' : ''} and a known stroke pushed in while it settles`,
      )
    else if (stretchPerPa === null && kind === 'tank')
      said.push(`a stretch of ${assumed.tankStretchPerPa * 1e7} % per bar of ${id} (none is stated)`)
  }
  return [{ topic: 'assumed', message: `This plan assumes ${said.join('; ')}.`, source: null }]
}
