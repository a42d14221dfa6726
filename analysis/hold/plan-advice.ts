import type { PlanAdvice } from '#analysis/model/plan.ts'
import type { Channel, HoldSpec, Section, System } from '#analysis/model/system.ts'
import { liquidCaution } from './liquid-caution.ts'
import { isLiquid } from './liquid-prior.ts'
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

/** Published waits and ways, with their sources. */
export function planWaits(sections: readonly Section[]): PlanAdvice[] {
  const volumeM3 = sections.reduce((sum, section) => sum + section.volumeM3, 0)
  return [
    {
      topic: 'wait-steady',
      message: 'Keep the surroundings steady for 2 h before, and settle at least 5 min.',
      source: boatRule,
    },
    {
      topic: 'wait-hold',
      message: `Hold at least ${boatRuleMinutes(volumeM3)} min for this volume; if nothing drops, still search every joint.`,
      source: boatRule,
    },
    { topic: 'wait-ramp', message: 'Pump tanks up no faster than 0.5 psi a minute.', source: boatRule },
    {
      topic: 'prove-rig',
      message: 'Prove the rig alone before the section.',
      source: '33 CFR 183.542 test procedure; builders’ practice',
    },
  ]
}

/** What can hurt somebody or the section; the maker's instructions come first. */
export function planCautions(system: System, spec: HoldSpec, sections: readonly Section[]): PlanAdvice[] {
  const out: PlanAdvice[] = []
  const say = (topic: string, message: string, source: string | null = null): void => {
    out.push({ topic, message, source })
  }
  for (const section of sections) {
    const limit = spec.pressurePa < 0 ? section.maxVacuumPa : section.maxPressurePa
    if (limit === null)
      say(
        'limit-unknown',
        `The file states no limit for ${section.id}: find the maker's figure before pumping up.`,
      )
    else if (Math.abs(spec.pressurePa) > limit)
      say(
        'over-limit',
        `The test pressure is above the stated limit of ${section.id}: do not pump it up so far.`,
      )
    const wet = liquidCaution(section, spec)
    if (wet !== null) say(wet.code, wet.message)
  }
  say(
    'relief-valve',
    'Fit a relief valve that opens 1.5 ± 0.5 psi above the test pressure, below the limit of every section.',
    boatRule,
  )
  const shut = spec.shut.map((id) => system.valves.find((v) => v.id === id)?.name || id)
  if (shut.length > 0) say('shut-valves', `Shut before pumping up: ${shut.join(', ')}.`)
  say(
    'no-ignition',
    sections.some((section) => isLiquid(section.medium))
      ? 'Fuel is in it: no ignition source near, an extinguisher at hand, catch what drips.'
      : 'Use dry inert gas where there was fuel or vapour; no ignition source near.',
  )
  say('eye-protection', 'Wear eye protection; stand clear of caps and tank ends.')
  say('never-tighten', 'Never tighten a fitting under pressure: vent first.', 'US Army AL0907')
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
  if (gauge !== undefined) said.push('gauge noise of one step, and no drift of its zero')
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
