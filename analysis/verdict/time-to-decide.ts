import type { GasHold } from '#analysis/fit/gas-rows.ts'
import type { Estimate, Reason } from '#analysis/model/hold-result.ts'
import type { HoldSpec, Section } from '#analysis/model/system.ts'
import { isLiquid } from '#analysis/physics/fuel-properties.ts'
import { reason } from '#analysis/reasons/phrase.ts'
import type { Help } from '#analysis/reasons/phrases.ts'
import { followedChange } from '#analysis/signal/followed-change.ts'
import type { FittedSection } from './fitted-section.ts'
import { partsOf, type ShrinkingVariance, secondsMore, withLasting } from './more-time.ts'

/** Share of what was corrected that stays in doubt however long it is held. Own figures, from simulated holds. */
const inDoubt = { gas: 0.02, liquid: 0.1 } as const

/** A step above this share of the allowance is coarse (ASTM E2930, scope as read). */
const coarse = 0.1

/** An undecided section: how much longer would decide it, or what else. */
export interface TimeToDecide {
  readonly secondsMore: number | null
  /** Null where time helps. */
  readonly otherwise: Reason | null
}

/**
 * Seconds more that an undecided hold needs; where no reasonable time would do, what else would help.
 *
 * @param fitted with its estimate as it is judged
 * @param holdS start of what was held, [s]
 * @param untilS its end, [s]
 */
export function timeToDecide(
  section: Section,
  spec: HoldSpec,
  fitted: FittedSection,
  hold: GasHold,
  volumeToleranceM3: number,
  holdS: number,
  untilS: number,
): TimeToDecide {
  const { judged, allowed, allowance } = fitted
  const variance = shrinking(section, spec, fitted, holdS, untilS)
  const seconds = secondsMore(judged, allowed, variance, untilS - holdS, spec.holdS)
  if (seconds !== null) return { secondsMore: seconds, otherwise: null }
  const liquid = isLiquid(section.medium)
  const unstroked = fitted.reasons.some(({ code }) => code === 'liquid-stiffness-unknown')
  return {
    secondsMore: null,
    otherwise: longerWillNotHelp(section, judged, allowed, variance, {
      thermometer: hold.temperatureK === null,
      barometer: hold.barometricPa === null && !liquid,
      // a stroke measures the stiffness itself: the volume cancels
      volume:
        volumeToleranceM3 > 0 &&
        (spec.allow.kind === 'gas-leak' || (spec.allow.kind === 'liquid-leak' && unstroked)),
      stretch: section.stretchPerPa === null && !liquid,
      stroke: unstroked,
      fineGauge: hold.noise.step > coarse * allowance.drop_Pa,
    }),
  }
}

function shrinking(
  section: Section,
  spec: HoldSpec,
  fitted: FittedSection,
  holdS: number,
  untilS: number,
): ShrinkingVariance {
  const { leak, allowance, judged, allowed, curves, variance } = fitted
  const liquid = isLiquid(section.medium)
  const change = followedChange(curves, holdS, untilS, spec.holdS, liquid ? 'range' : 'moves')
  const scale = (inDoubt[liquid ? 'liquid' : 'gas'] * allowed) / allowance.drop_Pa
  return {
    ...withLasting(
      variance,
      (leak.drop_Pa.high - leak.drop_Pa.low) / allowance.drop_Pa,
      (judged.high - judged.low) / allowed,
    ),
    of: liquid ? 'liquid' : 'gas',
    followed: { now: scale * change.now, late: scale * change.late, decay: change.decay },
  }
}

/** What a hold went without. */
interface Without {
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
