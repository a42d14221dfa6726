import type { Estimate, Reason } from '#analysis/model/hold-result.ts'
import type { Section } from '#analysis/model/system.ts'
import { isLiquid } from '#analysis/physics/fuel-properties.ts'
import { reason } from '#analysis/reasons/phrase.ts'
import type { Help } from '#analysis/reasons/phrases.ts'
import { partsOf, type ShrinkingVariance } from './more-time.ts'

/** What a hold went without. */
export interface Without {
  readonly thermometer: boolean
  readonly barometer: boolean
  /** The volume's tolerance goes into the leak. */
  readonly volume: boolean
  readonly stretch: boolean
  readonly stroke: boolean
  /** A step of the gauge is large against the allowance. */
  readonly fineGauge: boolean
}

/** A leak that is as near to the allowance as this share of it is judged by no hold of a reasonable length. Own figure. */
const near = 0.1
/** A cause is named first when it makes this share of the variance. */
const leading = 0.3

/** What would narrow the interval where time does not, the likeliest first. */
export function longerWillNotHelp(
  section: Section,
  judged: Estimate,
  allowed: number,
  variance: ShrinkingVariance,
  without: Without,
): Reason {
  const liquid = isLiquid(section.medium)
  const { whole } = variance
  const { lasting, followed } = partsOf(variance)
  const temperature: Help = without.thermometer ? 'thermometer' : liquid ? 'steady-liquid' : 'steady-gas'
  const told: Help[] = []
  if (without.barometer) told.push('barometer')
  if (without.volume) told.push('volume')
  if (without.stretch) told.push('stretch')
  if (without.stroke) told.push('stroke')
  if (without.fineGauge) told.push('fine-gauge')
  const warm = without.thermometer || followed > leading * whole || lasting < leading * whole
  const help = warm ? [temperature, ...told] : [...told, temperature]
  const nearAllowance = Math.abs(judged.value - allowed) < near * Math.abs(allowed)
  return reason('longer-will-not-help', { section: section.id, nearAllowance, help })
}
