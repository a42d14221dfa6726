import { liquidCaution } from '#analysis/faults/liquid-caution.ts'
import type { AllowanceFigures } from '#analysis/model/hold-result.ts'
import type { Channel, HoldSpec, Section, System } from '#analysis/model/system.ts'
import { isLiquid } from '#analysis/physics/fuel-properties.ts'
import { standardAtmospherePa } from '#analysis/physics/ideal-gas.ts'
import { laminarScale } from '#analysis/physics/leak-flow.ts'
import {
  type DisplayUnits,
  duration,
  type FigureWords,
  figuresIn,
  threeDigits,
} from '#analysis/reasons/figures.ts'
import { holdCautions, type PlanAdvice } from '#analysis/reasons/hold-cautions.ts'
import { phrase } from '#analysis/reasons/phrase.ts'
import { meaningOf } from '#analysis/verdict/meaning.ts'
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

/** 0.5 psi, [Pa]. *Source* laboratory procedure to 33 CFR 183.542. */
const rampPa = 0.5 * 6894.757293

/**
 * Published waiting times and procedures, with sources; written for pressure, adapted to suction where they apply.
 *
 * Source: [33-cfr-183], [astm-e2930], [epa-method-27], [10-cfr-50]
 */
export function planWaits(
  spec: Pick<HoldSpec, 'pressurePa' | 'holdS'>,
  sections: readonly Section[],
  allowedPa: number,
  figures: FigureWords,
): PlanAdvice[] {
  const volumeM3 = sections.reduce((sum, section) => sum + section.volumeM3, 0)
  const suction = spec.pressurePa < 0
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
        ? `Draw tanks down no faster than ${figures.pressure(rampPa)} a minute, the published limit for pump-up.`
        : `Pump tanks up no faster than ${figures.pressure(rampPa)} a minute.`,
      source: boatRule,
    },
    {
      topic: 'gauge-span',
      message: `Use a gauge whose span is at most 3 times the test pressure: ${figures.pressure(3 * Math.abs(spec.pressurePa))}.`,
      source: boatRule,
    },
    {
      topic: 'gauge-fine',
      message: `The gauge's steps should be 10 times finer than the allowance (${figures.pressure(allowedPa / 10)}), its accuracy 4 times (${figures.pressure(allowedPa / 4)}), and the whole change under 10 % of the pressure.`,
      source: 'ASTM E2930, scope as read',
    },
    {
      topic: 'hold-twice',
      message: `Hold twice: two runs in a row should agree within ${figures.pressure(runsAgreePa)}.`,
      source: 'EPA Method 27, for delivery tanks: 12.5 mmH2O',
    },
    {
      topic: 'prove-rig',
      message: 'Prove the rig alone before the section.',
      source: '33 CFR 183.542 test procedure; builders’ practice',
    },
    {
      topic: 'known-leak',
      message:
        'To prove the bench, open a known leak and check that the result finds it within 25 % of the allowance.',
      source: '10 CFR 50 App. J with ANSI/ANS-56.8, from memory',
    },
    ...twoPressures(spec, sections),
    ...(sections.some(({ medium }) => isLiquid(medium))
      ? []
      : limitAdvice(spec, volumeM3, allowedPa, figures)),
  ]
}

/** A second hold at half the pressure distinguishes a leak from vapor or a stretching wall. */
function twoPressures(spec: Pick<HoldSpec, 'pressurePa'>, sections: readonly Section[]): PlanAdvice[] {
  const breathes = sections.some(({ medium, stretchPerPa }) => !isLiquid(medium) && stretchPerPa === null)
  if (spec.pressurePa <= 0 || !breathes) return []
  const at = (share: number): number => standardAtmospherePa + share * spec.pressurePa
  const ratio = laminarScale(at(1), at(0.5), standardAtmospherePa)
  return [
    {
      topic: 'two-pressures',
      message: `If the result is near its allowance, hold again at half the pressure: a laminar leak falls to ${ratio.toFixed(2)} of itself, while vapor, creep and a drifting zero do not. The file states no stretch here, so this is worth it.`,
      source: 'p² − p_b², docs/known-leak.md',
    },
  ]
}

/** Safety cautions: those of every hold, and those of a section full of fuel. */
export function planCautions(
  system: System,
  spec: HoldSpec,
  sections: readonly Section[],
  units: DisplayUnits,
): PlanAdvice[] {
  const wet = sections.flatMap((section) => liquidCaution(section, spec) ?? [])
  return [
    ...wet.map((one) => ({ topic: one.code, message: phrase(one, units), source: null })),
    ...holdCautions(spec, system, figuresIn(units).pressure),
  ]
}

/**
 * Leak of fuel that sustains a flame, [mL/h]: 0.2 mL/min.
 *
 * Source: [dtic-ada088168] as cited, not read
 */
const flameMLPerH = 12
/** Least share of it at which an allowance gets a caution: own figure. */
const flameCaution = 0.1

/** The allowance as fuel flow through the same path, and its share of the flow that sustains a flame. */
export function allowanceAsFuel(
  spec: HoldSpec,
  section: Section,
  allowance: AllowanceFigures,
): { readonly advice: PlanAdvice; readonly isCaution: boolean } | null {
  const leak =
    allowance.mol_per_s !== undefined
      ? ({ kind: 'gas', molPerS: allowance.mol_per_s } as const)
      : allowance.mL_per_min !== undefined
        ? ({ kind: 'liquid', m3PerS: allowance.mL_per_min / 60e6 } as const)
        : null
  if (leak === null) return null
  const { fuel_mL_per_h, drops_per_min } = meaningOf(leak, {
    medium: section.medium,
    insidePa: standardPa + spec.pressurePa,
    outsidePa: standardPa,
    temperatureK: roomK,
    dropPa: allowance.drop_Pa,
    holdS: spec.holdS,
  })
  if (fuel_mL_per_h === null || drops_per_min === null) return null
  const share = fuel_mL_per_h / flameMLPerH
  const figure = (value: number): string => String(Number(value.toPrecision(2)))
  const isCaution = share >= flameCaution
  const message = `As fuel, this allowance could be ${figure(fuel_mL_per_h)} mL an hour, ${figure(drops_per_min)} drops a minute: ${figure(100 * share)} % of the 0.2 mL/min that sustain a flame.${isCaution ? ' State a smaller one if the gauge can decide it, and inspect every joint wet before it counts as tight.' : ''}`
  return {
    advice: {
      topic: 'allowance-as-fuel',
      message,
      source: 'ADA088168 as cited; one laminar path at the test pressure',
    },
    isCaution,
  }
}

const standardPa = 101325
const roomK = 293.15

/** Assumptions of the plan for values that the file does not state. */
export function planAssumptions(
  system: System,
  sections: readonly Section[],
  gauge: Channel | undefined,
  bench: { readonly sampleHz: number; readonly driftKPerH: number },
  figures: FigureWords,
): PlanAdvice[] {
  const byEye = bench.sampleHz < 0.5
  const said: string[] = [
    byEye
      ? `a reading by eye every ${duration(1 / bench.sampleHz)}`
      : `${bench.sampleHz} reading${bench.sampleHz === 1 ? '' : 's'} a second`,
    `a room that drifts by ${figures.kelvins(bench.driftKPerH)} an hour`,
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
  if (thermometers.length > 0 && !byEye) {
    const step = thermometers[0].resolutionSi
    said.push(
      `a thermometer with ${figures.kelvins(assumed.thermometerK)} of noise` +
        (step === null
          ? ` and steps of ${figures.kelvins(assumed.thermometerStepK)} (no resolution is stated)`
          : ''),
    )
  }
  if (gauge !== undefined)
    said.push(
      `gauge noise of ${assumed.whiteSteps * (byEye ? assumed.eyeSteps : 1)} steps, and no drift of its zero`,
    )
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

const psi = 6894.757293
/** Conventional, 4 °C. */
const inchesOfWater = 249.0889

/**
 * Published limits of a gas system's loss in other trades, for orientation and never as presets: none is for an aircraft's fuel
 * system. The volume is the one that the drop is stated for, [m³]; null for that of the system under test.
 *
 * Source: [en-1949] 4.3; [uscg-fuel-guide] 15.0; [epa-method-27], its starting pressure from memory; [ac-43.13-1b] 12-59. The
 * boat rule allows no visible drop on a gauge of three times the test pressure: 0.1 psi is our own figure for such a dial
 */
export const publishedLimits = [
  {
    clause: 'EN 1949:2011+A1:2013, 4.3',
    words: 'LPG in caravans',
    testPa: 15e3,
    dropPa: 1e3,
    seconds: 300,
    volumeM3: 0.7e-3,
  },
  {
    clause: '33 CFR 183.542, laboratory procedure 15.0',
    words: 'fuel in boats, no drop on a dial',
    testPa: 3 * psi,
    dropPa: 0.1 * psi,
    seconds: 300,
    volumeM3: null,
  },
  {
    clause: 'EPA Method 27; starting pressure from memory',
    words: 'vapor of gasoline delivery tanks',
    testPa: 18 * inchesOfWater,
    dropPa: 3 * inchesOfWater,
    seconds: 300,
    volumeM3: null,
  },
  {
    clause: 'AC 43.13-1B, 12-59',
    words: 'pitot lines',
    testPa: 14.9 * inchesOfWater,
    dropPa: 2.04 * inchesOfWater,
    seconds: 60,
    volumeM3: null,
  },
] as const

/**
 * Drop that a leak at a published limit causes in this hold: its gas loss per second, scaled to this test pressure by the
 * laminar law, over the time and volume of this hold.
 *
 * @param volumeM3 of the section, [m³] > 0
 * @param pressurePa test pressure, [Pa] > 0
 * @returns [Pa]
 * *Check*: EN 1949 in 0.85 L at 10 psi for 10 min: 1000 Pa · 0.7/0.85 · 2 · 5.7358 = 9447 Pa (computed)
 */
export function limitInThisHold(
  limit: (typeof publishedLimits)[number],
  volumeM3: number,
  { pressurePa, holdS }: Pick<HoldSpec, 'pressurePa' | 'holdS'>,
): number {
  const at = (gaugePa: number): number => standardAtmospherePa + gaugePa
  const scale = laminarScale(at(limit.testPa), at(pressurePa), standardAtmospherePa)
  return limit.dropPa * ((limit.volumeM3 ?? volumeM3) / volumeM3) * (holdS / limit.seconds) * scale
}

/** Compares the allowance with the published limits, one sentence each. */
export function limitAdvice(
  spec: Pick<HoldSpec, 'pressurePa' | 'holdS'>,
  volumeM3: number,
  allowedPa: number,
  { pressure, volume }: FigureWords,
): PlanAdvice[] {
  if (spec.pressurePa <= 0 || !(allowedPa > 0)) return []
  return publishedLimits.map((limit) => {
    const drop = limitInThisHold(limit, volumeM3, spec)
    const inVolume = limit.volumeM3 === null ? '' : ` with ${volume(limit.volumeM3)}`
    const rule = `${pressure(limit.dropPa)} of ${pressure(limit.testPa)} in ${duration(limit.seconds)}${inVolume}`
    return {
      topic: 'published-limit',
      message: `For orientation only, not a preset: ${limit.words} (${rule}) would be ${drop < spec.pressurePa ? pressure(drop) : 'all of the pressure'} in this hold of ${duration(spec.holdS)}, ${threeDigits(drop / allowedPa)} times your allowance.`,
      source: limit.clause,
    }
  })
}
