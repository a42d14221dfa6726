import type { SectionLeak } from '#analysis/model/hold-result.ts'
import type { Recording } from '#analysis/model/samples.ts'
import { isSectionPressure, type System } from '#analysis/model/system.ts'
import { holdCoverage } from '#analysis/model/system-graph.ts'
import { estimateOf, times } from '#analysis/numeric/estimate.ts'
import { gasConstant } from '#analysis/physics/ideal-gas.ts'
import { molPerSPerScc, sccReferenceText } from '#analysis/physics/standard-flow.ts'
import { calibratedReadings } from '#analysis/signal/calibrated-readings.ts'
import { lineThrough } from '#analysis/signal/column-spans.ts'
import type { HoldStages } from '#analysis/stages/stages-from-pressure.ts'

/** Room temperature is close enough: a neighbor's gain is known to a tenth at best. */
const temperatureK = 293.15
/** Effect of temperature and weather on an unmonitored neighbor during a hold, standard uncertainty, [Pa]. Own figure. */
const unexplainedPa = 100
/** Gains below this many standard uncertainties are not reported. */
const clearGain = 4

/**
 * Gains of the neighbors of a hold: shut sections next to those under pressure whose gauge rises during the hold by more than
 * temperature and weather explain. A gain is a negative leak; its drop is the rise in the stated hold time.
 * A neighbor at constant pressure is no evidence: it may be open to the air.
 */
export function neighborGains(recording: Recording, system: System, stages: HoldStages): SectionLeak[] {
  const { spec, holdS } = stages
  if (holdS === null || spec.pressurePa <= 0) return []
  const toS = stages.ventS ?? stages.endS
  const { boundary, bodies } = holdCoverage(system, spec)
  const inside = new Set(bodies.flatMap((b) => b.sections))
  const beyond = new Set(
    boundary.flatMap((v) => (v.beyond !== null && !inside.has(v.beyond) ? [v.beyond] : [])),
  )
  return [...beyond].flatMap((id): SectionLeak[] => {
    const section = system.sections.find((s) => s.id === id)
    const gain = section && gainOf(recording, system, id, holdS, toS)
    if (!gain) return []
    const { perS: risePerS, stdPerS } = gain
    const molPerPa = section.volumeM3 / (gasConstant * temperatureK)
    const relativeVolume = section.volumeToleranceM3 / section.volumeM3 / Math.sqrt(3)
    const perS = estimateOf(-risePerS, Math.hypot(stdPerS, risePerS * relativeVolume))
    const molPerS = times(perS, molPerPa)
    return [
      {
        section: id,
        mol_per_s: molPerS,
        scc_per_min: {
          ...times(molPerS, 1 / molPerSPerScc(system.sccReferenceK)),
          reference: sccReferenceText(system.sccReferenceK),
        },
        drop_Pa: times(perS, spec.holdS),
      },
    ]
  })
}

/**
 * Whether a section behind a shut valve gains the loss of these sections. A flow that ends as the pressures meet looks like
 * creep; the neighbor's gain rules creep out.
 */
export function feedsNeighbor(
  recording: Recording,
  system: System,
  { spec, holdS, ventS, endS }: HoldStages,
  joined: readonly string[],
): boolean {
  if (holdS === null || spec.pressurePa <= 0) return false
  return system.valves.some(({ between: [a, b] }) => {
    const beyond = joined.includes(a) ? b : joined.includes(b) ? a : null
    if (beyond === null || joined.includes(beyond)) return false
    return gainOf(recording, system, beyond, holdS, ventS ?? endS) !== null
  })
}

/** Pressure rise rate of a section beyond temperature and weather; null if it does not rise. */
function gainOf(
  recording: Recording,
  system: System,
  id: string,
  fromS: number,
  toS: number,
): { perS: number; stdPerS: number } | null {
  const channel = system.channels.find((c) => c.section === id && isSectionPressure(c.measures))
  const samples = recording.channels.find((c) => c.channel === channel?.id)
  if (!channel || !samples) return null
  const line = lineThrough(samples.timeS, calibratedReadings(channel, samples.reading), fromS, toS, toS)
  if (!line) return null
  const stdPerS = Math.hypot(line.stdPerS, unexplainedPa / (toS - fromS))
  return line.perS < clearGain * stdPerS ? null : { perS: line.perS, stdPerS }
}
