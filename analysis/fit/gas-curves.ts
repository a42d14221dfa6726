import type { HoldCurves } from '#analysis/model/hold-result.ts'
import type { Section } from '#analysis/model/system.ts'
import type { GasFit } from './gas-fit.ts'
import type { GasHold } from './gas-rows.ts'

/** Curves of a gas hold for charts and certificates: as read, with all causes but the leak taken off, and the leak. */
export function gasCurves(hold: GasHold, { best }: GasFit, section: Section, holdStartS: number): HoldCurves {
  const gauge = (log: number): number => hold.testPa * Math.exp(log) - hold.meanBarometricPa
  const { middleS: timeS, gaugePa, temperatureK, barometricPa } = hold
  return {
    section: section.id,
    timeS,
    holdStartS,
    gaugePa,
    compensatedPa: best.response.map((log, i) => gauge(log - best.causes[i])),
    leakLinePa: best.leakLine.map(gauge),
    temperatureK,
    barometricPa,
  }
}
