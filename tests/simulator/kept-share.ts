import { Vessel, type VesselSpec } from '#ingest/simulator/vessel.ts'
import { surroundingsAt, type Weather } from './weather.ts'

const stepS = 0.5

/**
 * Share of the gauge pressure given by the pump that is left when a tight section has settled: what an operator
 * knows from the last time and pumps up more for.
 */
export function keptShare(
  spec: VesselSpec,
  weather: Weather,
  testPa: number,
  times: { readonly pumpUpS: number; readonly dwellS: number; readonly settleS: number },
): number {
  const at = surroundingsAt(weather, 0)
  const vessel = new Vessel(spec, at)
  const molPerPa = vessel.mol / vessel.absolutePa
  const pumpedS = times.pumpUpS + times.dwellS
  for (let timeS = stepS; timeS < pumpedS + times.settleS; timeS += stepS) {
    const wantedPa = testPa * Math.min(1, timeS / times.pumpUpS)
    const shortPa = wantedPa - (vessel.absolutePa - at.atmospherePa)
    vessel.step(stepS, at, timeS <= pumpedS ? Math.max(0, molPerPa * shortPa) : 0, at.roomK, 0)
  }
  return (vessel.absolutePa - at.atmospherePa) / testPa
}
