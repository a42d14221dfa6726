import { unmeasuredK } from '#analysis/faults/temperature.ts'
import { fitBesideVessel, fitOrNull } from '#analysis/fit/fit-beside-vessel.ts'
import type { GasHold } from '#analysis/fit/gas-rows.ts'
import type { HoldFit } from '#analysis/fit/hold-fit.ts'
import { allowanceOf, gasScale, holdCurves, holdLeak } from '#analysis/fit/hold-leak.ts'
import { gasBeliefs } from '#analysis/fit/hold-model.ts'
import type { Estimate, Meaning, SectionLeak } from '#analysis/model/hold-result.ts'
import type { HoldSpec, Section, System } from '#analysis/model/system.ts'
import { stdOf } from '#analysis/numeric/estimate.ts'
import { unknownWeatherPaPerS } from '#analysis/signal/pressure-signal.ts'
import type { MeasuredSection } from '#analysis/signal/pressurised-bodies.ts'
import type { HoldStages } from '#analysis/stages/stages-from-pressure.ts'
import type { FittedSection, ShrinkingVariance } from './fitted-section.ts'
import { type FoundLeak, meaningOf } from './meaning.ts'

/** Fits a gas hold; null if the rows carry no information. */
export function gasFinding(
  hold: GasHold,
  system: System,
  stages: HoldStages,
  measured: MeasuredSection,
  widen: number,
  { creeps, quick }: { readonly creeps: boolean; readonly quick: boolean },
): FittedSection | null {
  const { spec } = stages
  const { section } = measured
  const known = hold.temperatureK === null ? { ...hold, unseenTemperatureK: unmeasuredK } : hold
  const beliefs = gasBeliefs(known, section, spec, creeps)
  const plain = fitOrNull(hold.rows, beliefs, quick)
  if (plain === null) return null
  const scale = gasScale(hold, spec, measured, system.sccReferenceK)
  const allowedPa = allowanceOf(plain, hold, spec, scale).drop_Pa
  const { fit, weatherShare, reasons } = fitBesideVessel(known, plain, section, spec, allowedPa)
  const found = holdLeak(fit, hold, spec, section.id, scale, widen)
  const { leak, judged, allowed } = found
  if (![judged.value, judged.low, judged.high, allowed].every(Number.isFinite)) return null
  const molPerS = leak.mol_per_s?.value ?? 0
  return {
    ...found,
    rawDropPa: rawDrop(hold, stages.holdS as number),
    reasons,
    curves: holdCurves(hold, fit.best, section.id, stages.holdS as number),
    meaning: meaningInHold({ kind: 'gas', molPerS }, hold, spec, section, leak),
    variance: varianceOf(hold, fit, stages, measured, judged, widen, weatherShare),
  }
}

/** A leak in practical terms, at the pressures and the temperature of its hold. */
export function meaningInHold(
  found: FoundLeak,
  hold: GasHold,
  { holdS }: HoldSpec,
  { medium }: Section,
  { drop_Pa }: SectionLeak,
): Meaning {
  return meaningOf(found, {
    medium,
    insidePa: hold.testPa,
    outsidePa: hold.meanBarometricPa,
    temperatureK: hold.meanTemperatureK,
    dropPa: drop_Pa.value,
    holdS,
  })
}

/** Variance of the judged figure, split by how its parts fall with time. */
function varianceOf(
  hold: GasHold,
  fit: HoldFit,
  stages: HoldStages,
  measured: MeasuredSection,
  judged: Estimate,
  widen: number,
  weatherShare: number,
): ShrinkingVariance {
  const { spec } = stages
  const { rows } = hold
  const n = rows.fromS.length
  const spanS = rows.toS[n - 1] - Math.max(0, rows.holdFromS)
  const blocks = Math.max(2, (n * spanS) / (rows.toS[n - 1] - rows.fromS[0]))
  const { walkPerS } = fit.best
  const variances = Float64Array.from(rows.variance).sort()
  const ofLog = (spec.holdS / spanS) ** 2
  const byDrop = spec.allow.kind === 'drop' || spec.allow.kind === 'rise'
  const perLog = byDrop ? hold.testPa : Math.abs(judged.value / logDropOf(fit))
  const scale = Number.isFinite(perLog) ? perLog ** 2 : 0
  const weather = hold.barometricPa === null ? weatherShare * unknownWeatherPaPerS * spec.holdS : 0
  const volume = byDrop ? 0 : measured.toleranceM3 / measured.volumeM3 / Math.sqrt(3)
  return {
    white: (12 * variances[n >> 1] * ofLog * scale) / blocks,
    walk: 1.2 * walkPerS * spanS * ofLog * scale,
    lasting: (Math.hypot(0.01, volume) * judged.value) ** 2 + scale * (weather / hold.testPa) ** 2,
    whole: (stdOf(judged) / widen) ** 2,
  }
}

function logDropOf({ drop }: HoldFit): number {
  let sum = 0
  let total = 0
  drop.mean.forEach((mean, i) => {
    sum += drop.weight[i] * mean
    total += drop.weight[i]
  })
  return sum / total
}

/** Uncorrected fall of the gauge over the hold, [Pa]. */
export function rawDrop(hold: GasHold, holdS: number): number {
  let first = 0
  while (first < hold.middleS.length - 1 && hold.middleS[first] < holdS) first++
  return hold.gaugePa[first] - hold.gaugePa[hold.gaugePa.length - 1]
}
