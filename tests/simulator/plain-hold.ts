import type { BarometerSpec, ThermometerSpec, TransducerSpec } from '#ingest/simulator/instruments.ts'
import type { Random } from '#ingest/simulator/random.ts'
import { molPerPa, type VesselSpec } from '#ingest/simulator/vessel.ts'
import { keptShare } from './kept-share.ts'
import type { Bench, Procedure, Scenario, StatedAllowance } from './scenario.ts'
import { psiPa, sccPerMinMolPerS } from './units.ts'
import type { Weather } from './weather.ts'

export type SectionKind = 'line' | 'tank'

function rounded(value: number, digits: number): number {
  return Number(value.toPrecision(digits))
}

/** The quiet hold that every situation starts from. */
export function plainHold(random: Random, kind: SectionKind, leakOverAllowance: number): Scenario {
  const line = kind === 'line'
  const volumeL = rounded(line ? random.uniform(0.2, 1) : random.uniform(40, 120), line ? 2 : 3)
  const tolerancePercent = random.pick([5, 10, 10, 15])
  const volumeM3 = (volumeL / 1000) * (1 + (tolerancePercent / 100) * random.uniform(-1, 1))
  const pressurePsi = line
    ? random.pick([5, 8, 10, 12, 15, 20, 25, 30])
    : random.pick([0.5, 0.75, 1, 1.25, 1.5, 2])
  const stretchPercentPerBar = line ? 0 : rounded(random.uniform(0, 30), 2)
  const vessel: VesselSpec = {
    volumeM3,
    stretchPerPa: stretchPercentPerBar / 1e7,
    creepPerPa: 0,
    creepTauS: 100,
    gasTauS: line ? random.uniform(10, 60) : random.uniform(120, 720),
    convectionExponent: !line && random.chance(0.4) ? 0.25 : 0,
    wallTauS: line ? random.uniform(60, 300) : random.uniform(300, 1200),
    wallHeatJPerK: line ? random.uniform(100, 400) : volumeL * random.uniform(40, 120),
  }
  const roomK = 273.15 + random.uniform(8, 30)
  const weather: Weather = {
    roomK,
    roomRampKPerS: random.uniform(-0.3, 0.3) / 3600,
    swings: [
      {
        amplitudeK: random.uniform(0, 0.05),
        periodS: random.uniform(300, 1500),
        phase: random.uniform(0, 6.28),
      },
    ],
    doors: [],
    sunK: 0,
    sunAtS: 0,
    sunTauS: 600,
    barometricPa: random.uniform(97000, 103000),
    barometricRampPaPerS: random.uniform(-30, 30) / 3600,
    barometricSwingPa: random.uniform(0, 2),
    barometricPeriodS: random.uniform(600, 3600),
  }
  const holdS = line ? random.pick([600, 600, 600, 900]) : random.pick([900, 1200, 1800, 1800])
  // A workshop that reads the plan waits for the heat of pumping: whole minutes, at least these many time constants.
  const heatGoneS = 60 * Math.ceil((vessel.gasTauS * (line ? 4 : 2.5)) / 60)
  const procedure: Procedure = {
    pressurePsi,
    statedSettleS: Math.max(heatGoneS, line ? random.pick([120, 180, 300]) : random.pick([600, 900, 1200])),
    settleS: 0,
    holdS,
    allow: allowance(random, line, pressurePsi, holdS, volumeL, roomK),
    beforeS: random.uniform(15, 40),
    pumpUpS: line ? random.uniform(6, 30) : random.uniform(60, 180),
    pumpTo: 1,
    dwellS: line ? random.uniform(0, 20) : random.uniform(0, 90),
    ventS: line ? 40 : 120,
    ventTauS: line ? random.uniform(0.8, 3) : random.uniform(5, 20),
    stageMarks: true,
  }
  const settleS = procedure.statedSettleS * random.uniform(0.95, 1.3)
  const pumpTo =
    random.uniform(0.98, 1.04) / keptShare(vessel, weather, pressurePsi * psiPa, { ...procedure, settleS })
  return {
    name: 'plain',
    vessel,
    stated: {
      kind,
      volumeL,
      tolerancePercent,
      stretchPercentPerBar: line || random.chance(0.6) ? stretchPercentPerBar : null,
    },
    procedure: { ...procedure, settleS, pumpTo },
    leakOverAllowance,
    weather,
    bench: cheapBench(random, line, pressurePsi),
  }
}

/** A figure such as a workshop would write: round, and large enough that cheap instruments can judge it. */
function allowance(
  random: Random,
  line: boolean,
  pressurePsi: number,
  holdS: number,
  volumeL: number,
  roomK: number,
): StatedAllowance {
  const dropPsi = line
    ? random.pick(
        pressurePsi <= 8 ? [0.05, 0.1, 0.1] : pressurePsi <= 15 ? [0.1, 0.1, 0.15, 0.2] : [0.1, 0.2, 0.3],
      )
    : random.pick(pressurePsi < 1 ? [0.03, 0.04] : [0.04, 0.05, 0.06, 0.08])
  if (random.chance(0.75)) return { kind: 'drop', dropPsi }
  const molPerS = (dropPsi * psiPa * molPerPa(volumeL / 1000, 0, roomK, 101325, 101325)) / holdS
  return { kind: 'leak', sccPerMin: rounded(molPerS / sccPerMinMolPerS, 2) }
}

function cheapBench(random: Random, line: boolean, pressurePsi: number): Bench {
  const absolute = random.chance(0.2)
  const spanPsi = line ? (pressurePsi > 20 ? 60 : pressurePsi > 10 ? 30 : random.pick([15, 30])) : 5
  const highPsi = absolute ? (line ? spanPsi + 15 : 30) : spanPsi
  const bits = line && !absolute ? random.pick([13, 14, 14]) : absolute && !line ? random.pick([16, 18]) : 14
  const stepPa = (highPsi * psiPa) / 2 ** bits
  const pressure: TransducerSpec = {
    kind: absolute ? 'absolute' : 'gauge',
    lowPa: absolute || random.chance(0.7) ? 0 : -psiPa,
    highPa: highPsi * psiPa,
    bits,
    whitePa: stepPa * random.uniform(0.5, 2),
    flickerPa: stepPa * random.uniform(0, 0.3),
    flickerTauS: random.uniform(10, 60),
    walkPaPerSqrtS: 0,
    driftPaPerS: 0,
    offsetPa: highPsi * psiPa * random.uniform(-0.002, 0.002),
    gain: 1 + random.uniform(-0.0025, 0.0025),
  }
  // A gauge whose zero lies at the end of its span would clip half of its noise.
  const settled: TransducerSpec =
    pressure.kind === 'gauge' && pressure.lowPa === 0
      ? { ...pressure, offsetPa: Math.abs(pressure.offsetPa) }
      : pressure
  const thermometer: ThermometerSpec = {
    touches: random.chance(0.65) ? 'wall' : 'gas',
    lagS: random.uniform(5, 60),
    whiteK: random.uniform(0.005, 0.03),
    resolutionK: random.pick([0.01, 0.01, 0.0625]),
    offsetK: random.uniform(-0.5, 0.5),
    share: 1,
  }
  const barometer: BarometerSpec = {
    whitePa: random.uniform(2, 6),
    resolutionPa: random.pick([1, 2, 10]),
    offsetPa: random.uniform(-100, 100),
  }
  return {
    pressure: settled,
    thermometer,
    barometer,
    statesResolution: random.chance(0.5),
    sampleHz: random.pick([1, 1, 2, 2, 5, 10]),
    jitterS: random.uniform(0, 0.02),
    lostShare: random.uniform(0, 0.01),
  }
}
