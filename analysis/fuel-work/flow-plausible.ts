import { type Fuel, fuelProperties } from '#analysis/physics/fuel-properties.ts'
import type { FlowSheet } from './flow-result.ts'
import type { WeighedReason } from './worst-verdict.ts'

/** Take-off flows of light aircraft engines, [m³/s]: 8 to 250 L/h. Own figures; the largest six-cylinder burns some 130. */
const likelyTakeOffM3PerS = [8 / 3.6e6, 250 / 3.6e6] as const
/** Nose up, [°]: climbs of light aircraft and a margin. Own figures. */
const likelyAttitudeDeg = [-15, 30] as const
/** What is sold lies within four standard uncertainties of the round figure of its grade. */
const gradeStd = 4

/** Densities at 15 °C that a fuel can have, [kg/m³]. */
export function possibleDensity(fuel: Fuel): readonly [low: number, high: number] {
  const { density15KgM3, stdDensity15KgM3 } = fuelProperties[fuel]
  return [density15KgM3 - gradeStd * stdDensity15KgM3, density15KgM3 + gradeStd * stdDensity15KgM3]
}

/** Entries that can hardly be meant: each is asked about, and keeps the check open until it is put right. */
export function unlikelyEntries({
  takeOffM3PerS,
  climbDeg,
  marginDeg,
  runs,
  tanks,
}: FlowSheet): WeighedReason[] {
  const ask = (code: string, message: string): WeighedReason => ({ weight: 'undecided', code, message })
  const reasons: WeighedReason[] = []
  const [least, most] = likelyTakeOffM3PerS
  if (takeOffM3PerS.value < least || takeOffM3PerS.value > most)
    reasons.push(
      ask(
        'take-off-flow-unlikely',
        `A take-off flow of ${(takeOffM3PerS.value * 3.6e6).toFixed(0)} L/h is not that of a light aircraft (8 to 250 L/h): is the unit right?`,
      ),
    )
  const angles = [
    climbDeg,
    climbDeg === null ? null : climbDeg + (marginDeg ?? 0),
    ...runs.map((r) => r.attitudeDeg),
  ].filter((a) => a !== null)
  for (const angle of new Set(angles.filter((a) => a < likelyAttitudeDeg[0] || a > likelyAttitudeDeg[1])))
    reasons.push(ask('attitude-unlikely', `Nose up ${angle}° is not an attitude of climb: is it in degrees?`))
  for (const tank of new Set(runs.map((r) => r.tank).filter((t) => !tanks.some(({ id }) => id === t))))
    reasons.push(ask('not-a-tank', `${tank} is no tank: name the tank that fed the run.`))
  return reasons
}
