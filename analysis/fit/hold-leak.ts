import type { AllowanceFigures, Estimate, HoldCurves, SectionLeak } from '#analysis/model/hold-result.ts'
import type { HoldSpec, System } from '#analysis/model/system.ts'
import { mixtureQuantile, type NormalMixture } from '#analysis/numeric/normal-mixture.ts'
import { isLiquid } from '#analysis/physics/fuel-properties.ts'
import { gasConstant } from '#analysis/physics/ideal-gas.ts'
import { molPerSPerScc, sccReferenceText } from '#analysis/physics/standard-flow.ts'
import { coarseStepPa } from '#analysis/signal/sample-noise.ts'
import { fullLine, middleYieldPerPa } from './full-line.ts'
import type { GasHold } from './gas-rows.ts'
import { gaugeOf } from './hold-columns.ts'
import type { HoldPath } from './hold-filter.ts'
import type { HoldFit } from './hold-fit.ts'
import type { Variances } from './uncertainty-budget.ts'

/** Volume that is under pressure: sections joined by open valves add up. */
export interface PressurisedVolume {
  readonly volumeM3: number
  readonly toleranceM3: number
}

/** Conversion of a fit's amount to moles or cubic metres a second, and its published form. */
export interface AmountScale {
  /** Rate of an amount of 1 in the stated hold time. */
  readonly ratePerAmount: number
  /** Standard uncertainty of the volume over the volume. */
  readonly relativeVolumeStd: number
  leak(rate: Estimate): Partial<SectionLeak>
  allowance(rate: number): Partial<AllowanceFigures>
}

/**
 * Amounts of gas: moles a second = λ·n/(s·hold time) with n = p_test·V·growth/(R·T) and s the stiffness.
 *
 * *Uncertainty* the volume's tolerance counts as a rectangular half-width (JCGM 100:2008 4.3.7).
 */
export function gasScale(
  hold: GasHold,
  { holdS }: Pick<HoldSpec, 'holdS'>,
  volume: PressurisedVolume,
  sccReferenceK: number,
): AmountScale {
  const scc = molPerSPerScc(sccReferenceK)
  const reference = sccReferenceText(sccReferenceK)
  return {
    ratePerAmount: (hold.testPa * volume.volumeM3) / (gasConstant * hold.meanTemperatureK) / holdS,
    relativeVolumeStd: volume.toleranceM3 / volume.volumeM3 / Math.sqrt(3),
    leak: (mol) => ({
      mol_per_s: mol,
      scc_per_min: { value: mol.value / scc, low: mol.low / scc, high: mol.high / scc, reference },
    }),
    allowance: (mol) => ({ mol_per_s: mol, scc_per_min: mol / scc }),
  }
}

/**
 * Amounts of a liquid.
 *
 * @param stroked whether a stroke measured the stiffness: the volume then cancels
 */
export function liquidScale(
  { holdS }: Pick<HoldSpec, 'holdS'>,
  volume: PressurisedVolume,
  stroked: boolean,
): AmountScale {
  return {
    ratePerAmount: volume.volumeM3 / holdS,
    relativeVolumeStd: stroked ? 0 : volume.toleranceM3 / volume.volumeM3 / Math.sqrt(3),
    leak: (m3) => ({
      mL_per_min: { value: m3.value * mlPerMin, low: m3.low * mlPerMin, high: m3.high * mlPerMin },
    }),
    allowance: (m3) => ({ mL_per_min: m3 * mlPerMin }),
  }
}

const mlPerMin = 60e6

/**
 * Converts the fitted leak to amounts and pressure drop; under suction ingress and rise are positive.
 *
 * @param widen factor on both half-widths of the interval, 1 or more (live looks)
 */
export function holdLeak(
  fit: HoldFit,
  hold: GasHold,
  spec: HoldSpec,
  section: string,
  scale: AmountScale,
  widen: number,
) {
  const sign = spec.pressurePa < 0 ? -1 : 1
  const { toS, holdFromS } = hold.rows
  const heldS = toS[toS.length - 1] - Math.max(0, holdFromS)
  const hidden = coarseStepPa(hold.noise, heldS, spec.holdS) / hold.testPa
  const { relativeVolumeStd: relativeVolume } = scale
  const amounts: NormalMixture = {
    weight: fit.amount.weight,
    mean: fit.amount.mean,
    std: fit.amount.std.map((std, i) =>
      Math.hypot(std, fit.amount.mean[i] * relativeVolume, hidden * fit.middleAmountPerDrop),
    ),
  }
  const drops: NormalMixture = { ...fit.drop, std: fit.drop.std.map((std) => Math.hypot(std, hidden)) }
  const drop = estimate(drops, sign * hold.testPa, widen)
  const rate = estimate(amounts, sign * scale.ratePerAmount, widen)
  const allowance = allowanceOf(fit, hold, spec, scale)
  const byDrop = spec.allow.kind === 'drop' || spec.allow.kind === 'rise'
  return {
    leak: { section, ...scale.leak(rate), drop_Pa: drop } as SectionLeak,
    allowance,
    /** The estimate in the allowance's own unit. */
    judged: byDrop ? drop : rate,
    allowed: byDrop ? allowance.drop_Pa : allowedRate(fit, hold, spec, scale),
    /** Sources of the variance of the judged figure. */
    variances(): Variances {
      const parts = fit.variances(!byDrop)
      const steps = hidden * (byDrop ? 1 : fit.middleAmountPerDrop)
      const volumeStd = byDrop ? 0 : mixtureQuantile(fit.amount, 0.5) * relativeVolume
      return { ...parts, gauge: (parts.gauge ?? 0) + steps ** 2, volume: volumeStd ** 2 }
    },
  }
}

/** A leak in the published units, and the same with the width used for the verdict. */
export type HoldLeak = Readonly<ReturnType<typeof holdLeak>>

/** The allowance as drop and as rates, converted with the posterior median of volume and stiffness. */
export function allowanceOf(
  fit: HoldFit,
  hold: GasHold,
  spec: Pick<HoldSpec, 'allow'>,
  scale: AmountScale,
): AllowanceFigures {
  const rate = allowedRate(fit, hold, spec, scale)
  const { allow } = spec
  return {
    ...scale.allowance(rate),
    drop_Pa: 'dropPa' in allow ? allow.dropPa : rate / ratePerPa(fit, hold, scale),
  }
}

function allowedRate(
  fit: HoldFit,
  hold: GasHold,
  { allow }: Pick<HoldSpec, 'allow'>,
  scale: AmountScale,
): number {
  if (allow.kind === 'gas-leak') return allow.molPerS
  return allow.kind === 'liquid-leak' ? allow.m3PerS : allow.dropPa * ratePerPa(fit, hold, scale)
}

/** Rate per pascal of drop in the stated hold time, by the posterior median. */
function ratePerPa(fit: HoldFit, hold: GasHold, { ratePerAmount }: AmountScale): number {
  return (fit.middleAmountPerDrop * ratePerAmount) / hold.testPa
}

/** Median and 95 % interval of a mixture, scaled. */
function estimate(mixture: NormalMixture, factor: number, widen: number): Estimate {
  const value = mixtureQuantile(mixture, 0.5)
  const a = factor * (value + widen * (mixtureQuantile(mixture, 0.025) - value))
  const b = factor * (value + widen * (mixtureQuantile(mixture, 0.975) - value))
  return { value: factor * value, low: Math.min(a, b), high: Math.max(a, b) }
}

/** Curves of a hold for charts and reports: as read, corrected for all causes but the leak, and the leak. */
export function holdCurves(
  hold: GasHold,
  { shape, response, causes, leakLine }: HoldPath,
  section: string,
  holdStartS: number,
): HoldCurves {
  const { middleS: timeS, gaugePa, temperatureK, barometricPa } = hold
  const gauge = (read: number): number => gaugeOf(read, hold, shape)
  return {
    section,
    timeS,
    holdStartS,
    gaugePa,
    compensatedPa: response.map((read, i) => gauge(read - causes[i])),
    leakLinePa: leakLine.map(gauge),
    temperatureK,
    barometricPa,
  }
}

/** Room temperature, assumed where none was measured, [K]. */
const roomK = 293.15

/**
 * The allowance in every unit from the system file alone, for results without a fit: rigid sections at 20 °C; for a
 * liquid the prior median of its stiffness.
 *
 * leak = drop·V/(R·T·hold time); liquid: leak = drop/(dp/dV)/hold time
 *
 * *Uncertainty* of the stated volume and of an unstated stretch; with a fit, the figures come from the fit.
 */
export function statedAllowance(system: System, spec: HoldSpec): AllowanceFigures {
  const sections = system.sections.filter(({ id }) => spec.sections.includes(id))
  const volumeM3 = sections.reduce((sum, section) => sum + section.volumeM3, 0)
  const { allow, holdS } = spec
  const wet = sections.find(({ medium }) => isLiquid(medium))
  if (wet !== undefined || allow.kind === 'liquid-leak') {
    const perM3 =
      wet === undefined || !isLiquid(wet.medium)
        ? 0
        : 1 / middleYieldPerPa(fullLine(wet, wet.medium, roomK, spec.pressurePa), spec.pressurePa) / volumeM3
    const byDrop = 'dropPa' in allow ? allow.dropPa / perM3 / holdS : 0
    const m3PerS = allow.kind === 'liquid-leak' ? allow.m3PerS : byDrop
    return { mL_per_min: m3PerS * 60e6, drop_Pa: m3PerS * holdS * perM3 }
  }
  const molPerDrop = volumeM3 / (gasConstant * roomK * holdS)
  const molPerS = allow.kind === 'gas-leak' ? allow.molPerS : allow.dropPa * molPerDrop
  const drop_Pa = allow.kind === 'gas-leak' ? allow.molPerS / molPerDrop : allow.dropPa
  return { mol_per_s: molPerS, scc_per_min: molPerS / molPerSPerScc(system.sccReferenceK), drop_Pa }
}
