import type { HoldCurves } from '#analysis/model/hold-result.ts'

/** The curves from the start of the hold on: the stages before it (pump-up heat, settling) would dwarf it. */
export function fromHoldStart(curves: HoldCurves): HoldCurves {
  const start = curves.holdStartS ?? null
  const from = start === null ? 0 : curves.timeS.findIndex((timeS) => timeS >= start)
  if (from <= 0 || curves.timeS.length - from < 2) return curves
  return {
    ...curves,
    timeS: curves.timeS.subarray(from),
    gaugePa: curves.gaugePa.subarray(from),
    compensatedPa: curves.compensatedPa.subarray(from),
    leakLinePa: curves.leakLinePa.subarray(from),
    temperatureK: curves.temperatureK?.subarray(from) ?? null,
    barometricPa: curves.barometricPa?.subarray(from) ?? null,
  }
}
