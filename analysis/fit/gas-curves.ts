import type { HoldCurves } from '#analysis/model/hold-result.ts'
import type { Section } from '#analysis/model/system.ts'
import { gasColumnsOf, place } from './gas-columns.ts'
import type { GasFit } from './gas-fit.ts'
import type { GasHold } from './gas-rows.ts'

/** Curves of a gas hold for charts and certificates: as read, with all causes but the leak taken off, and the leak. */
export function gasCurves(hold: GasHold, fit: GasFit, section: Section, holdStartS: number): HoldCurves {
  const { shape, creepTauS } = fit.best
  const c = fit.best.coefficients()
  const { regressors, response, heatAt } = gasColumnsOf(hold.rows, [creepTauS])(shape)
  const { heat, leak, bend } = heatAt(c[place.heat], c[place.leak])
  regressors[place.heat] = heat
  regressors[place.leak] = leak.map((value, i) => value + c[place.law] * regressors[place.law][i])
  const n = hold.middleS.length
  const compensatedPa = new Float64Array(n)
  const leakLinePa = new Float64Array(n)
  const gauge = (log: number): number => hold.testPa * Math.exp(log) - hold.meanBarometricPa
  for (let i = 0; i < n; i++) {
    let cause = bend[i]
    for (const k of [
      place.heat,
      place.slowHeat,
      place.lead,
      place.temperature,
      place.barometer,
      place.creep,
    ]) {
      cause += c[k] * regressors[k][i]
    }
    compensatedPa[i] = gauge(response[i] - cause)
    leakLinePa[i] = gauge(c[place.level] + c[place.leak] * regressors[place.leak][i])
  }
  const { middleS: timeS, gaugePa, temperatureK, barometricPa } = hold
  return {
    section: section.id,
    timeS,
    holdStartS,
    gaugePa,
    compensatedPa,
    leakLinePa,
    temperatureK,
    barometricPa,
  }
}
