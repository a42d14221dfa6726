import type { Surroundings } from '#ingest/simulator/vessel.ts'

/** A periodic swing of the room temperature. */
interface Swing {
  readonly amplitudeK: number
  readonly periodS: number
  readonly phase: number
}

/** An opened door: the room temperature drops at once and recovers exponentially. */
interface Door {
  readonly atS: number
  readonly dropK: number
  readonly recoverS: number
}

/** Room, sun and atmosphere over a session; times count from the start of the recording. */
export interface Weather {
  readonly roomK: number
  readonly roomRampKPerS: number
  readonly swings: readonly Swing[]
  readonly doors: readonly Door[]
  /** The sun comes out: the wall approaches `sunK` above the room with the time constant `sunTauS`. */
  readonly sunK: number
  readonly sunAtS: number
  readonly sunTauS: number
  readonly barometricPa: number
  readonly barometricRampPaPerS: number
  /** Slow curvature of the barometer on top of the ramp. */
  readonly barometricSwingPa: number
  readonly barometricPeriodS: number
}

export function surroundingsAt(weather: Weather, timeS: number): Surroundings {
  let roomK = weather.roomK + weather.roomRampKPerS * timeS
  for (const swing of weather.swings) {
    const angle = (2 * Math.PI * timeS) / swing.periodS + swing.phase
    roomK += swing.amplitudeK * (Math.sin(angle) - Math.sin(swing.phase))
  }
  for (const door of weather.doors) {
    if (timeS > door.atS) roomK -= door.dropK * Math.exp((door.atS - timeS) / door.recoverS)
  }
  const sunS = timeS - weather.sunAtS
  const sunK = sunS > 0 && weather.sunK !== 0 ? weather.sunK * -Math.expm1(-sunS / weather.sunTauS) : 0
  const bend =
    weather.barometricSwingPa === 0
      ? 0
      : weather.barometricSwingPa * Math.sin((2 * Math.PI * timeS) / weather.barometricPeriodS)
  return { roomK, sunK, atmospherePa: weather.barometricPa + weather.barometricRampPaPerS * timeS + bend }
}
