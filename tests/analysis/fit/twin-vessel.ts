import type { Recording } from '#analysis/model/samples.ts'
import type { Channel, System } from '#analysis/model/system.ts'
import { transducer } from '#ingest/simulator/instruments.ts'
import { seededRandom } from '#ingest/simulator/random.ts'
import { Vessel } from '#ingest/simulator/vessel.ts'
import { stageTimes } from '#tests/simulator/play-hold.ts'
import type { SimulatedHold } from '#tests/simulator/simulate-hold.ts'
import { psiPa } from '#tests/simulator/units.ts'
import { surroundingsAt } from '#tests/simulator/weather.ts'

export interface TwinFaults {
  /** The twin's own leak over the section's allowance as a drop in the stated hold time; negative: it is being pumped. */
  readonly leakOverAllowance?: number
  /** The twin stays at the atmosphere. */
  readonly unpumped?: boolean
  /** Its gauge repeats one reading from the hold on. */
  readonly stuck?: boolean
}

/**
 * A simulated hold with a closed twin vessel beside the section: the same weather, a wall and a size that are nearly the
 * section's, a gauge of the section's span, pumped up with it.
 */
export function withTwin(
  hold: SimulatedHold,
  seed: number,
  faults: TwinFaults = {},
): { readonly recording: Recording; readonly system: System } {
  const { scenario, recording, system } = hold
  const { procedure, weather, bench } = scenario
  const random = seededRandom(seed, 77)
  const near = () => random.uniform(0.85, 1.15)
  const spec = {
    ...scenario.vessel,
    volumeM3: scenario.vessel.volumeM3 * near(),
    stretchPerPa: 0,
    creepPerPa: 0,
    gasTauS: scenario.vessel.gasTauS * near(),
    wallTauS: scenario.vessel.wallTauS * near(),
    wallHeatJPerK: scenario.vessel.wallHeatJPerK * near(),
  }
  const twin = new Vessel(spec, surroundingsAt(weather, 0))
  const molPerPa = twin.mol / twin.absolutePa
  const times = stageTimes(scenario)
  const dropPa = procedure.allow.kind === 'drop' ? procedure.allow.dropPsi * psiPa : 0.05 * psiPa
  const testPa = procedure.pressurePsi * psiPa
  const lost = ((faults.leakOverAllowance ?? 0) * dropPa * molPerPa) / procedure.holdS
  const spanPa = Math.max(bench.pressure.highPa - bench.pressure.lowPa, 2 * Math.abs(testPa))
  const gauge = transducer(
    {
      ...bench.pressure,
      kind: 'gauge',
      lowPa: Math.min(testPa * 1.3, -0.1 * spanPa),
      highPa: Math.max(spanPa, 5000),
      walkPaPerSqrtS: 0,
      driftPaPerS: 0,
    },
    seededRandom(seed, 78),
  )
  const { timeS } = recording.channels[0]
  let nowS = 0
  let last = Number.NaN
  const reading = timeS.map((untilS) => {
    while (nowS < untilS) {
      const dtS = Math.min(0.1, untilS - nowS)
      nowS += dtS
      const at = surroundingsAt(weather, nowS)
      const pumping = nowS > times.pumpS && nowS <= times.settleS && !faults.unpumped
      const ramp = Math.min(1, (nowS - times.pumpS) / procedure.pumpUpS)
      const toward = pumping
        ? molPerPa * (testPa * procedure.pumpTo * ramp - (twin.absolutePa - at.atmospherePa))
        : nowS > times.settleS
          ? -lost * Math.sign(testPa)
          : 0
      twin.step(dtS, at, Math.max(0, toward), at.roomK, Math.max(0, -toward))
    }
    const read = gauge(twin.absolutePa - surroundingsAt(weather, nowS).atmospherePa, nowS)
    if (faults.stuck && nowS > times.holdS && !Number.isNaN(last)) return last
    last = read
    return read
  })
  const channel: Channel = {
    id: 'p-twin',
    measures: 'reference-pressure',
    section: system.sections[0].id,
    from: { measurement: 'logger', field: 'p2', tags: {} },
    unit: 'psi',
    scale: null,
    rangeSi: null,
    resolutionSi: null,
    accuracySi: null,
    calibration: null,
  }
  return {
    recording: { ...recording, channels: [...recording.channels, { channel: 'p-twin', timeS, reading }] },
    system: { ...system, channels: [...system.channels, channel] },
  }
}
