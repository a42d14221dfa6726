import type { AllowanceFigures, Estimate, SectionLeak } from '#analysis/model/hold-result.ts'
import type { HoldSpec } from '#analysis/model/system.ts'
import { mixtureQuantile, type NormalMixture } from '#analysis/numeric/normal-mixture.ts'
import type { LiquidFit } from './liquid-fit.ts'

/** A liquid leak in the published units, and the same with the width a verdict is judged by. */
export interface LiquidLeak {
  readonly leak: SectionLeak
  readonly allowance: AllowanceFigures
  /** The estimate in the allowance's own unit. */
  readonly judged: Estimate
  readonly allowed: number
}

const mlPerMin = 60e6

/**
 * Puts the fitted leak into millilitres and pressure drop; under suction what comes in, and the rise, are positive.
 *
 * @param relativeVolumeStd standard uncertainty of the volume over the volume; 0 where a stroke measured the stiffness
 * itself, for then the volume cancels
 * @param widen factor on both half-widths of the interval, 1 or more (live looks)
 */
export function liquidLeak(
  fit: LiquidFit,
  section: string,
  { allow, pressurePa }: Pick<HoldSpec, 'allow' | 'pressurePa'>,
  relativeVolumeStd: number,
  widen: number,
): LiquidLeak {
  const sign = pressurePa < 0 ? -1 : 1
  const spreadVolume: NormalMixture = {
    weight: fit.volume.weight,
    mean: fit.volume.mean,
    std: fit.volume.std.map((std, i) => Math.hypot(std, fit.volume.mean[i] * relativeVolumeStd)),
  }
  const m3PerS = estimate(spreadVolume, sign, widen)
  const drop = estimate(fit.drop, sign, widen)
  // drop in the stated hold time for each m³/s, by the middle of what is believed
  const dropPerFlow = dropOf(fit)
  const leak: SectionLeak = { section, mL_per_min: scaled(m3PerS, mlPerMin), drop_Pa: drop }
  if (allow.kind === 'liquid-leak') {
    return {
      leak,
      allowance: { mL_per_min: allow.m3PerS * mlPerMin, drop_Pa: allow.m3PerS * dropPerFlow },
      judged: m3PerS,
      allowed: allow.m3PerS,
    }
  }
  const dropPa = allow.kind === 'gas-leak' ? Number.NaN : allow.dropPa
  return {
    leak,
    allowance: { mL_per_min: (dropPa / dropPerFlow) * mlPerMin, drop_Pa: dropPa },
    judged: drop,
    allowed: dropPa,
  }
}

function dropOf(fit: LiquidFit): number {
  return mixtureQuantile(fit.paPerM3, 0.5) * fit.statedHoldS
}

function scaled(estimate: Estimate, factor: number): Estimate {
  return { value: factor * estimate.value, low: factor * estimate.low, high: factor * estimate.high }
}

/** Median and 95 % interval of a mixture, scaled. */
function estimate(mixture: NormalMixture, factor: number, widen: number): Estimate {
  const value = mixtureQuantile(mixture, 0.5)
  const low = value + widen * (mixtureQuantile(mixture, 0.025) - value)
  const high = value + widen * (mixtureQuantile(mixture, 0.975) - value)
  const [a, b] = [factor * low, factor * high]
  return { value: factor * value, low: Math.min(a, b), high: Math.max(a, b) }
}
