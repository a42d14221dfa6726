import { seededRandom } from '#ingest/simulator/random.ts'
import { BenchStory } from '#tests/analysis/verdict/bench-story.ts'
import { plainHold } from '#tests/simulator/plain-hold.ts'
import type { Scenario } from '#tests/simulator/scenario.ts'
import { psiPa } from '#tests/simulator/units.ts'

export interface SuctionHold {
  readonly story: BenchStory
  /** Rise that the ingress alone would cause in the stated time at the stated vacuum, [Pa]. */
  readonly truePa: number
}

/**
 * A section under vacuum, as on the inlet side of a pump: sucked down, settled, held, vented. Lines of 0.2 to 1 L, a gauge
 * of −15 to 15 psi, and the weather of a workshop.
 *
 * @param vacuumPsi below the atmosphere, > 0
 * @param rampKPerH change of the room, as wanted
 */
export function suctionHold(
  seed: number,
  vacuumPsi: number,
  leakOverAllowance: number,
  rampKPerH: number | null = null,
): SuctionHold {
  const random = seededRandom(seed, 5150)
  const plain = plainHold(random, 'line', leakOverAllowance)
  const lowPa = -15 * psiPa
  const spanPa = 30 * psiPa
  const stepPa = spanPa / 2 ** 14
  const dropPsi = vacuumPsi < 2 ? 0.08 : 0.1
  const scenario: Scenario = {
    ...plain,
    name: 'suction',
    procedure: {
      ...plain.procedure,
      pressurePsi: -vacuumPsi,
      allow: { kind: 'drop', dropPsi },
    },
    weather: {
      ...plain.weather,
      roomRampKPerS: rampKPerH === null ? plain.weather.roomRampKPerS : rampKPerH / 3600,
    },
    bench: {
      ...plain.bench,
      pressure: {
        ...plain.bench.pressure,
        kind: 'gauge',
        lowPa,
        highPa: lowPa + spanPa,
        bits: 14,
        whitePa: stepPa * random.uniform(0.5, 1.5),
        flickerPa: 0,
      },
    },
  }
  const story = new BenchStory(scenario, seed)
  const { beforeS, pumpUpS, settleS, holdS, ventS, ventTauS } = scenario.procedure
  story.wait(beforeS)
  story.stage('pump-up')
  story.pump(-vacuumPsi * 1.02, pumpUpS)
  story.wait(5)
  story.shutSupply()
  story.stage('settle')
  story.wait(settleS)
  story.stage('hold')
  story.wait(holdS)
  story.stage('vent')
  story.vent(ventTauS, ventS)
  story.stage('end')
  // A simulated line is rigid, and the path of its leak is made for just this share of the allowance.
  return { story, truePa: leakOverAllowance * dropPsi * psiPa }
}
