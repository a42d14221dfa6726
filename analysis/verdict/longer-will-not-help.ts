import type { Estimate, Reason } from '#analysis/model/hold-result.ts'
import type { Section } from '#analysis/model/system.ts'
import { isLiquid } from '#analysis/physics/fuel-properties.ts'
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
  const temperature = without.thermometer
    ? 'a thermometer on the section'
    : `a steadier temperature (shade, shut doors, a longer settle), or a second thermometer${liquid ? '' : ' or a closed vessel of the same kind beside it'}`
  const told = [
    without.barometer && 'a barometer',
    without.volume && 'a measured volume (a known injection)',
    without.stretch && 'a known stretch of the section',
    without.stroke && 'a known volume pushed in while it settles, and marked',
    without.fineGauge && 'a gauge of finer steps',
  ].filter((help) => help !== false)
  const warm = without.thermometer || followed > leading * whole || lasting < leading * whole
  const help = warm ? [temperature, ...told] : [...told, temperature]
  const isNear = Math.abs(judged.value - allowed) < near * Math.abs(allowed)
  const why = isNear
    ? 'the leak seems to be within a tenth of the allowance, which takes more than time to tell apart'
    : 'the uncertainty does not shrink enough with time, or the leak is close to the allowance'
  return {
    code: 'longer-will-not-help',
    message: `${section.id}: a longer hold alone would hardly decide it: ${why}. What would help: ${help.join('; ')}${isNear ? '; or find the leak and mend it, and hold again' : ''}.`,
  }
}
