import type { Plan, PlanAdvice } from '#analysis/model/plan.ts'
import type { Channel, HoldSpec, Section, System } from '#analysis/model/system.ts'
import { standardAtmospherePa } from '#analysis/physics/ideal-gas.ts'
import { gaugeAdvice } from './faults/instrument-advice.ts'
import { unmeasuredK } from './faults/temperature.ts'
import { isTank } from './gas-priors.ts'
import { isLiquid, steepestPaPerK } from './liquid-prior.ts'
import { planCautions, planWaits } from './plan-advice.ts'
import { statedAllowance } from './stated-allowance.ts'

/** What is taken of instruments and room where the file does not say. */
export interface PlanDefaults {
  readonly sampleHz: number
  /** Drift of the room's temperature, [K/h]. */
  readonly driftKPerH: number
  /** Temperature trend over a hold that a thermometer on the section may miss, [K]. */
  readonly missedK: number
}

const defaults: PlanDefaults = { sampleHz: 1, driftKPerH: 1, missedK: 0.02 }

const roomK = 293.15
/** Standard errors between a leak and none for both errors to be rare: 1.96 for the verdict, 0.84 for power 0.8. */
const deciding = 1.96 + 0.8416
/** Share of a followed temperature change by which the correction may be wrong. */
const followedShare = 0.04
/** Random walk of a cheap transducer over ten minutes, as a share of its span. Own figure. */
const walkShare = 4e-5
/** Unknown weather without a barometer, [Pa/s]. */
const weatherPaPerS = 130 / 3600
/** Time constants of the gas toward its wall, slow ones of their kind, [s] (common practice; lines of 0.2 to 1 L). */
const gasLagS = { line: 60, tank: 600 }
const mostTimes = 8

/**
 * What a hold can decide with its sensors, from the system file alone.
 *
 * The standard error of the drop in the stated time H after holding for T: white noise √(12·s²/(f·T))·H/T, sensor walk
 * ∝ H/√T, missed temperature and a share of the followed one, unknown weather.
 *
 * @returns null when the system has no such hold
 * *Uncertainty* a factor of about 1.5: the instruments' noise is guessed from span and resolution.
 * *Source* docs/method.md sections 1 to 5; least-squares slope of evenly spaced readings.
 */
export function planHold(system: System, holdId: string, given: Partial<PlanDefaults> = {}): Plan | null {
  const spec = system.holds.find(({ id }) => id === holdId)
  if (spec === undefined) return null
  const setting = { ...defaults, ...given }
  const sections = system.sections.filter(({ id }) => spec.sections.includes(id))
  const main = sections[0]
  const gauge = system.channels.find(
    (c) =>
      (c.measures === 'gauge-pressure' || c.measures === 'absolute-pressure') &&
      c.section !== null &&
      spec.sections.includes(c.section),
  )
  const allowance = statedAllowance(system, spec)
  const allowedPa = allowance.drop_Pa
  const errors = errorsOf(system, spec, main, gauge, setting)
  const stdAt = (seconds: number, drift = setting.driftKPerH): number => errors(seconds, drift).allPa
  const atStated = errors(spec.holdS, setting.driftKPerH)
  const smallest = deciding * atStated.allPa
  const decides = gauge !== undefined && smallest <= allowedPa
  let needed: number | null = null
  for (let seconds = 60; seconds <= mostTimes * spec.holdS && needed === null; seconds += 30)
    if (deciding * stdAt(seconds) <= allowedPa) needed = seconds
  let drift = 0
  while (drift < 50 && deciding * stdAt(spec.holdS, drift + 0.1) <= allowedPa) drift += 0.1
  const perDrop = (figure: number | undefined): number | null =>
    figure === undefined || allowedPa <= 0 ? null : (figure / allowedPa) * smallest
  const cautions: PlanAdvice[] = planCautions(system, spec, sections)
  if (gauge === undefined)
    cautions.unshift(
      own('no-gauge', `No pressure channel sees ${spec.sections.join(' or ')}: nothing can be decided.`),
    )
  else
    for (const { cautions: found } of gaugeAdvice(gauge, spec.pressurePa, allowedPa, gauge.resolutionSi ?? 0))
      for (const { code, message } of found) cautions.push(own(code, message))
  return {
    stillhold: 1,
    hold: spec.id,
    message: sentence(spec, gauge, decides, needed, allowedPa, smallest),
    decides,
    hold_seconds: spec.holdS,
    settle_seconds: spec.settleS,
    allowed_drop_Pa: allowedPa,
    smallest_drop_Pa: smallest,
    smallest_scc_per_min: perDrop(allowance.scc_per_min),
    smallest_mL_per_min: perDrop(allowance.mL_per_min),
    needed_seconds: needed,
    needed_settle_seconds: neededSettleS(spec, main, allowedPa),
    largest_drift_K_per_h: Number(drift.toFixed(1)),
    noise_drop_Pa: atStated.noisePa,
    temperature_drop_Pa: atStated.temperaturePa,
    weather_drop_Pa: atStated.weatherPa,
    waits: planWaits(sections),
    cautions,
  }
}

interface ErrorParts {
  readonly noisePa: number
  readonly temperaturePa: number
  readonly weatherPa: number
  readonly allPa: number
}

function errorsOf(
  system: System,
  spec: HoldSpec,
  main: Section,
  gauge: Channel | undefined,
  setting: PlanDefaults,
): (seconds: number, driftKPerH: number) => ErrorParts {
  const has = (measures: Channel['measures'], here: boolean): boolean =>
    system.channels.some(
      (c) => c.measures === measures && (!here || (c.section !== null && spec.sections.includes(c.section))),
    )
  const absolutePa = spec.pressurePa + standardAtmospherePa
  const perK = isLiquid(main.medium)
    ? steepestPaPerK(main, main.medium, roomK, spec.pressurePa)
    : absolutePa / roomK
  const span = gauge?.rangeSi ? gauge.rangeSi[1] - gauge.rangeSi[0] : 3 * Math.abs(spec.pressurePa)
  const step = gauge?.resolutionSi ?? span / 2 ** 14
  const white = 1.5 * step
  const thermometer = has('temperature', true)
  const barometer = has('barometric-pressure', false)
  return (seconds, driftKPerH) => {
    const scale = spec.holdS / seconds
    const readings = Math.max(4, setting.sampleHz * seconds)
    const noisePa = Math.hypot(
      Math.sqrt(12 / readings) * white * scale,
      1.1 * walkShare * span * Math.sqrt(seconds / 600) * scale,
    )
    const driftK = (driftKPerH * seconds) / 3600
    const temperaturePa = thermometer
      ? Math.hypot(setting.missedK, followedShare * driftK) * perK * scale
      : Math.max(unmeasuredK, driftK) * perK * scale
    const weatherPa = barometer || gauge?.measures === 'absolute-pressure' ? 0 : weatherPaPerS * spec.holdS
    return { noisePa, temperaturePa, weatherPa, allPa: Math.hypot(noisePa, temperaturePa, weatherPa) }
  }
}

/** Settle after which the heat still to go would fake less than a tenth of the allowance: 2/7 of the gauge pressure, fading. */
function neededSettleS(spec: HoldSpec, main: Section, allowedPa: number): number {
  const lagS = isTank(main) ? gasLagS.tank : gasLagS.line
  // The fit takes nearly all of the heat off; a tenth of it is left to waiting.
  const heatPa = isLiquid(main.medium) ? 0 : 0.1 * (2 / 7) * Math.abs(spec.pressurePa)
  const waits = heatPa > 0.1 * allowedPa ? lagS * Math.log(heatPa / (0.1 * allowedPa)) : 0
  return Math.max(60, Math.ceil(waits / 30) * 30)
}

function sentence(
  spec: HoldSpec,
  gauge: Channel | undefined,
  decides: boolean,
  needed: number | null,
  allowedPa: number,
  smallestPa: number,
): string {
  if (gauge === undefined) return `Nothing is measured in ${spec.id}: connect a transducer.`
  const share = Math.round((100 * smallestPa) / allowedPa)
  if (decides)
    return `A hold of ${Math.round(spec.holdS / 60)} min can decide this allowance: the smallest leak it tells from none is ${share} % of it.`
  if (needed !== null)
    return `A hold of ${Math.round(spec.holdS / 60)} min is too short for this allowance; about ${Math.ceil(needed / 60)} min would decide it.`
  return 'These sensors cannot decide this allowance in any reasonable time: measure the temperature better, keep it steadier, or take a gauge of a smaller span.'
}

function own(topic: string, message: string): PlanAdvice {
  return { topic, message, source: null }
}
