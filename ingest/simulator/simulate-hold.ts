import type { ChannelSamples, Mark, Recording } from '#analysis/model/samples.ts'
import type { System } from '#analysis/model/system.ts'
import { benchSystem, simulatedHoldId } from './bench-system.ts'
import { barometer, thermometer, transducer } from './instruments.ts'
import { seededRandom } from './random.ts'
import type { Scenario } from './scenario.ts'
import { psiPa, sccPerMinMolPerS } from './units.ts'
import { molPerPa, Vessel } from './vessel.ts'
import { surroundingsAt } from './weather.ts'

/** What nature did, for judging an analysis. */
export interface Truth {
  /** The leak at the stated test pressure, [mol/s]. */
  readonly molPerS: number
  /** Drop that this leak alone would cause in the stated hold time: rate · time, [Pa]. */
  readonly dropPa: number
  readonly leakOverAllowance: number
  /** Fall of the true gauge pressure over the hold, all causes together, [Pa]. */
  readonly gaugeFallPa: number
}

export interface SimulatedHold {
  readonly scenario: Scenario
  readonly system: System
  readonly systemText: string
  readonly recording: Recording
  readonly truth: Truth
  /** The recording as a file after the contract. */
  recordingText(): string
}

/** First instant of every simulated recording: 2026-01-01 00:00:00 UTC, [ns]. */
const epochNs = 1767225600000000000n
/** Longest step of the integration while gas flows in or out, and otherwise, [s]. */
const flowStepS = 0.1
const quietStepS = 0.5

/**
 * Plays one hold through: atmosphere, pump-up, settle, hold, vent; then reads it with the scenario's instruments.
 * The same scenario and seed give the same bytes.
 */
export function simulateHold(scenario: Scenario, seed: number): SimulatedHold {
  const { procedure, bench, weather } = scenario
  const { system, text: systemText } = benchSystem(scenario)
  const pumpS = procedure.beforeS
  const settleS = pumpS + procedure.pumpUpS + procedure.dwellS
  const holdS = settleS + procedure.settleS
  const ventS = holdS + procedure.holdS
  const endS = ventS + procedure.ventS

  const clock = seededRandom(seed, 1)
  const readPressure = transducer(bench.pressure, seededRandom(seed, 2))
  const readTemperature = bench.thermometer && thermometer(bench.thermometer, seededRandom(seed, 3))
  const readBarometer = bench.barometer && barometer(bench.barometer, seededRandom(seed, 4))

  const start = surroundingsAt(weather, 0)
  const vessel = new Vessel(scenario.vessel, start)
  const conductance = leakConductance(scenario)
  const supplyMolPerSPa = vessel.mol / vessel.absolutePa
  const testPa = procedure.pressurePsi * psiPa

  const timeMs: number[] = []
  const psi: number[] = []
  const degC: number[] = []
  const hPa: number[] = []
  const sampleCount = Math.floor(endS * bench.sampleHz)
  let timeS = 0
  let holdGasK = 0
  let holdBarometerPa = 0
  let holdTimeS = 0
  let gaugeAtHoldPa = Number.NaN
  let gaugeAtVentPa = Number.NaN
  for (let k = 0; k < sampleCount; k++) {
    const dueS = Math.max(0, k / bench.sampleHz + bench.jitterS * clock.normal())
    const atMs = Math.round(dueS * 1000)
    if (k > 0 && atMs <= timeMs[timeMs.length - 1]) continue
    const spanS = atMs / 1000 - timeS
    const flowing = timeS < settleS + 1 ? timeS + spanS > pumpS - 1 : timeS + spanS > ventS - 1
    const steps = Math.max(1, Math.ceil(spanS / (flowing ? flowStepS : quietStepS) - 1e-9))
    const dtS = spanS / steps
    for (let i = 0; i < steps && spanS > 0; i++) {
      timeS += dtS
      const at = surroundingsAt(weather, timeS)
      const gaugePa = vessel.absolutePa - at.atmospherePa
      let inMolPerS = 0
      let outMolPerS = conductance * (vessel.absolutePa ** 2 - at.atmospherePa ** 2)
      if (timeS > pumpS && timeS <= settleS) {
        const ramp = Math.min(1, (timeS - pumpS) / procedure.pumpUpS)
        const wantedPa = testPa * procedure.pumpTo * ramp
        inMolPerS = Math.max(0, (supplyMolPerSPa * (wantedPa - gaugePa)) / 1)
      } else if (timeS > ventS) {
        outMolPerS += (supplyMolPerSPa * gaugePa) / procedure.ventTauS
      }
      if (outMolPerS < 0) {
        inMolPerS -= outMolPerS
        outMolPerS = 0
      }
      vessel.step(dtS, at, inMolPerS, at.roomK, outMolPerS)
      if (timeS > holdS && timeS <= ventS) {
        if (Number.isNaN(gaugeAtHoldPa)) gaugeAtHoldPa = gaugePa
        gaugeAtVentPa = gaugePa
        holdGasK += dtS * vessel.gasK
        holdBarometerPa += dtS * at.atmospherePa
        holdTimeS += dtS
      }
    }
    const atmospherePa = surroundingsAt(weather, timeS).atmospherePa
    const feltPa = bench.pressure.kind === 'gauge' ? vessel.absolutePa - atmospherePa : vessel.absolutePa
    const pressureReading = readPressure(feltPa, timeS)
    const touchedK = bench.thermometer?.touches === 'gas' ? vessel.gasK : vessel.wallK
    const temperatureReading = readTemperature?.(touchedK, timeS) ?? 0
    const barometerReading = readBarometer?.(atmospherePa, timeS) ?? 0
    if (k > 0 && clock.chance(bench.lostShare)) continue
    timeMs.push(atMs)
    psi.push(Math.round((pressureReading / psiPa) * 1e5) / 1e5)
    degC.push(Math.round((temperatureReading - 273.15) * 1e4) / 1e4)
    hPa.push(Math.round(barometerReading) / 100)
  }

  const startMs = timeMs[0]
  const startNs = epochNs + BigInt(startMs) * 1_000_000n
  const column = (values: readonly number[], toSi: (value: number) => number): Float64Array =>
    Float64Array.from(values, toSi)
  const times = column(timeMs, (ms) => (ms - startMs) / 1000)
  const channels: ChannelSamples[] = [
    { channel: 'p-bench', timeS: times, reading: column(psi, (value) => value * psiPa) },
  ]
  if (readTemperature) {
    channels.push({ channel: 't-bench', timeS: times, reading: column(degC, (value) => value + 273.15) })
  }
  if (readBarometer) {
    channels.push({ channel: 'baro', timeS: times, reading: column(hPa, (value) => value * 100) })
  }

  const stages: readonly (readonly [name: string, atS: number])[] = procedure.stageMarks
    ? [
        ['pump-up', pumpS],
        ['settle', settleS],
        ['hold', holdS],
        ['vent', ventS],
        ['end', endS],
      ]
    : []
  const marks: Mark[] = stages.map(([name, atS]) => {
    const ms = Math.round(atS * 1000)
    return {
      timeNs: String(epochNs + BigInt(ms) * 1_000_000n),
      timeS: (ms - startMs) / 1000,
      kind: 'stage',
      id: null,
      hold: simulatedHoldId,
      fields: { name },
    }
  })

  const atmospherePa = holdBarometerPa / holdTimeS
  const molPerS = conductance * ((atmospherePa + testPa) ** 2 - atmospherePa ** 2)
  const { volumeM3, stretchPerPa } = scenario.vessel
  const stiffness = molPerPa(
    volumeM3,
    stretchPerPa,
    holdGasK / holdTimeS,
    atmospherePa + testPa,
    atmospherePa,
  )
  const name = `${scenario.name}-${seed}.lp`
  return {
    scenario,
    system,
    systemText,
    recording: {
      name,
      startNs: String(startNs),
      channels,
      marks,
      rejectedLines: 0,
      missingSequence: 0,
    },
    truth: {
      molPerS,
      dropPa: (molPerS * procedure.holdS) / stiffness,
      leakOverAllowance: scenario.leakOverAllowance,
      gaugeFallPa: gaugeAtHoldPa - gaugeAtVentPa,
    },
    recordingText: () =>
      recordingText(timeMs, psi, readTemperature ? degC : null, readBarometer ? hPa : null, marks),
  }
}

/** Size of the leak path, [mol/(s·Pa²)], that at the stated test pressure leaks the wanted share of the allowance. */
function leakConductance(scenario: Scenario): number {
  const { procedure, weather, vessel, leakOverAllowance } = scenario
  const testPa = procedure.pressurePsi * psiPa
  const midS =
    procedure.beforeS + procedure.pumpUpS + procedure.dwellS + procedure.settleS + procedure.holdS / 2
  const at = surroundingsAt(weather, midS)
  const absolutePa = at.atmospherePa + testPa
  const allowedMolPerS =
    procedure.allow.kind === 'leak'
      ? procedure.allow.sccPerMin * sccPerMinMolPerS
      : ((procedure.allow.dropPsi * psiPa) / procedure.holdS) *
        molPerPa(vessel.volumeM3, vessel.stretchPerPa, at.roomK + at.sunK, absolutePa, at.atmospherePa)
  return (leakOverAllowance * allowedMolPerS) / (absolutePa ** 2 - at.atmospherePa ** 2)
}

function recordingText(
  timeMs: readonly number[],
  psi: readonly number[],
  degC: readonly number[] | null,
  hPa: readonly number[] | null,
  marks: readonly Mark[],
): string {
  const lines = ['# stillhold recording 1']
  let nextMark = 0
  for (let i = 0; i < timeMs.length; i++) {
    const timeNs = String(epochNs + BigInt(timeMs[i]) * 1_000_000n)
    while (nextMark < marks.length && BigInt(marks[nextMark].timeNs) <= BigInt(timeNs)) {
      lines.push(markLine(marks[nextMark++]))
    }
    const fields = [`p1=${psi[i]}`]
    if (degC) fields.push(`t1=${degC[i]}`)
    if (hPa) fields.push(`baro=${hPa[i]}`)
    lines.push(`logger ${fields.join(',')} ${timeNs}`)
  }
  while (nextMark < marks.length) lines.push(markLine(marks[nextMark++]))
  return `${lines.join('\n')}\n`
}

function markLine(mark: Mark): string {
  return `mark,kind=stage,hold=${mark.hold} name="${mark.fields.name}" ${mark.timeNs}`
}
