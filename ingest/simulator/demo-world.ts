import type { HoldSpec, Section, System } from '#analysis/model/system.ts'
import type { World, WorldLeak, WorldSection } from './bench-world.ts'
import { type Random, seededRandom } from './random.ts'
import { molPerPa, type VesselSpec, type Weather } from './vessel.ts'

/** Larger sections count as tanks where the file does not specify, [m³]. */
const tankFromM3 = 0.005
const standardAtmospherePa = 101325

/** Initial leaks of the demo aircraft, in multiples of the allowance: the first line hold and one tank fail. */
export const floatplaneLeaks: Readonly<Record<string, number>> = { F12: 3, F07: 2.5 }

export function isTank(section: Section): boolean {
  return section.kind === 'tank' || (section.kind === null && section.volumeM3 >= tankFromM3)
}

/** A calm morning in the workshop: the room warms slowly and the barometer falls slightly. */
export function quietMorning(random: Random): Weather {
  const startK = 273.15 + random.uniform(16, 19)
  const rampKPerS = random.uniform(0.2, 0.6) / 3600
  const [periodS, phase] = [random.uniform(500, 900), random.uniform(0, 6)]
  const startPa = random.uniform(100600, 101900)
  const rampPaPerS = -random.uniform(20, 60) / 3600
  return (timeS) => ({
    roomK:
      startK +
      rampKPerS * timeS +
      0.06 * (Math.sin((2 * Math.PI * timeS) / periodS + phase) - Math.sin(phase)),
    sunK: 0,
    atmospherePa: startPa + rampPaPerS * timeS + 3 * Math.sin((2 * Math.PI * timeS) / 2700),
  })
}

/**
 * A simulated world that matches a system file: each volume within its stated tolerance, typical walls and lags,
 * everything tight except the named fittings.
 *
 * @param leaking fittings that leak, in multiples of the allowance of the first hold that covers their section
 */
export function demoWorld(
  system: System,
  seed: number,
  leaking: Readonly<Record<string, number>>,
  weather: Weather = quietMorning(seededRandom(seed, 51)),
): World {
  const random = seededRandom(seed, 50)
  const sections: WorldSection[] = system.sections.map((section) => ({
    id: section.id,
    vessel: vesselOf(section, random),
    sunShare: isTank(section) ? 1 : 0,
  }))
  const leaks = Object.entries(leaking).map(([fitting, multiple]) =>
    leakAt(system, sections, fitting, multiple, weather(0).roomK),
  )
  const valves = system.valves.map(({ id, between }) => ({ id, between, open: false, passing: 0 }))
  return { sections, leaks, valves, weather }
}

/** The leak at a fitting with `multiple` times the allowance at the test pressure of its section's hold. */
function leakAt(
  system: System,
  sections: readonly WorldSection[],
  fittingId: string,
  multiple: number,
  roomK: number,
): WorldLeak {
  const fitting = system.fittings.find(({ id }) => id === fittingId)
  if (fitting === undefined) throw new RangeError(`the system file has no fitting '${fittingId}'`)
  const section = sections.find(({ id }) => id === fitting.section)
  const hold = system.holds.find(({ sections: covered }) => covered.includes(fitting.section))
  if (section === undefined || hold === undefined) {
    throw new RangeError(`no hold covers the section of fitting '${fittingId}'`)
  }
  return {
    fitting: fittingId,
    section: fitting.section,
    conductance: multiple * allowedConductance(section.vessel, hold, roomK),
  }
}

/** Conductance that leaks exactly the allowance of a hold at its test pressure, [mol/(s·Pa²)]. */
function allowedConductance(vessel: VesselSpec, hold: HoldSpec, roomK: number): number {
  const absolutePa = standardAtmospherePa + hold.pressurePa
  const { allow } = hold
  if (allow.kind === 'liquid-leak')
    throw new RangeError(`hold '${hold.id}' is a liquid hold; the demo bench holds gas`)
  const molPerS =
    allow.kind === 'gas-leak'
      ? allow.molPerS
      : (allow.dropPa / hold.holdS) *
        molPerPa(vessel.volumeM3, vessel.stretchPerPa, roomK, absolutePa, standardAtmospherePa)
  return molPerS / Math.abs(absolutePa ** 2 - standardAtmospherePa ** 2)
}

function vesselOf(section: Section, random: Random): VesselSpec {
  const tank = isTank(section)
  const volumeM3 = section.volumeM3 + section.volumeToleranceM3 * random.uniform(-0.8, 0.8)
  return {
    volumeM3,
    stretchPerPa: section.stretchPerPa ?? (tank ? 1e-6 : 0),
    creepPerPa: 0,
    creepTauS: 100,
    gasTauS: tank ? random.uniform(200, 300) : random.uniform(15, 30),
    convectionExponent: 0,
    wallTauS: tank ? random.uniform(500, 900) : random.uniform(100, 200),
    wallHeatJPerK: tank ? volumeM3 * 8e4 : 200,
  }
}
