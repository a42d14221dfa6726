import type { BarometerSpec, ThermometerSpec, TransducerSpec } from './instruments.ts'
import { keptShare } from './kept-share.ts'
import { type Random, seededRandom } from './random.ts'
import type { Bench, Procedure, Scenario, StatedAllowance } from './scenario.ts'
import { psiPa, sccPerMinMolPerS } from './units.ts'
import type { VesselSpec } from './vessel.ts'
import { molPerPa } from './vessel.ts'
import type { Weather } from './weather.ts'

export type SectionKind = 'line' | 'tank'

/** A kind of hold that an analysis must get right; the seed draws its details. */
export interface Situation {
  readonly name: string
  /** What is special about it, in one sentence. */
  readonly about: string
  scenario(seed: number, leakOverAllowance: number, kind?: SectionKind): Scenario
}

/** The leaks that every situation is played with, in multiples of the allowance. */
export const leaksOverAllowance: readonly number[] = [0, 0.5, 1, 1.25, 2, 5]

type Draft = { -readonly [K in keyof Scenario]: Mutable<Scenario[K]> }
type Mutable<T> = T extends readonly (infer U)[]
  ? U[]
  : T extends object
    ? { -readonly [K in keyof T]: Mutable<T[K]> }
    : T

type Change = (draft: Draft, random: Random, kind: SectionKind) => void

function situation(name: string, about: string, change: Change): Situation {
  return {
    name,
    about,
    scenario(seed, leakOverAllowance, wanted) {
      const random = seededRandom(seed, streamOf(name))
      const drawn: SectionKind = random.chance(0.5) ? 'line' : 'tank'
      const kind = wanted ?? drawn
      const draft = plainHold(random, kind, leakOverAllowance) as Draft
      draft.name = `${name}-${kind}`
      change(draft, random, kind)
      return draft
    },
  }
}

/** FNV-1a of the name: the same seed draws another hold in another situation. */
function streamOf(name: string): number {
  let hash = 0x811c9dc5
  for (let i = 0; i < name.length; i++) hash = Math.imul(hash ^ name.charCodeAt(i), 0x01000193)
  return hash
}

function rounded(value: number, digits: number): number {
  return Number(value.toPrecision(digits))
}

function sign(random: Random): number {
  return random.chance(0.5) ? 1 : -1
}

/** The quiet hold that every situation starts from. */
function plainHold(random: Random, kind: SectionKind, leakOverAllowance: number): Scenario {
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

/** Temperature that moves enough to matter, on a straight line. */
function ramp(draft: Draft, random: Random, lowKPerH: number, highKPerH: number): void {
  draft.weather.roomRampKPerS = (sign(random) * random.uniform(lowKPerH, highKPerH)) / 3600
}

function swing(draft: Draft, random: Random, lowK: number, highK: number): void {
  draft.weather.swings = [
    {
      amplitudeK: random.uniform(lowK, highK),
      periodS: random.uniform(240, 1200),
      phase: random.uniform(0, 2 * Math.PI),
    },
  ]
}

function holdStartS(draft: Draft): number {
  const { beforeS, pumpUpS, dwellS, settleS } = draft.procedure
  return beforeS + pumpUpS + dwellS + settleS
}

export const situations: readonly Situation[] = [
  situation('steady', 'A quiet room: under 0.3 K/h and 0.3 hPa/h.', () => {}),
  situation('ramp', 'The room warms or cools by 1 to 5 K/h throughout.', (draft, random) =>
    ramp(draft, random, 1, 5),
  ),
  situation('swings', 'The room swings by ±0.5 to 2 K, or a door lets it drop.', (draft, random) => {
    if (random.chance(0.6)) swing(draft, random, 0.5, 2)
    else {
      const from = holdStartS(draft)
      const count = random.pick([1, 2, 3])
      for (let i = 0; i < count; i++) {
        draft.weather.doors.push({
          atS: random.uniform(from - 300, from + draft.procedure.holdS * 0.9),
          dropK: random.uniform(0.7, 3),
          recoverS: random.uniform(120, 600),
        })
      }
    }
  }),
  situation('sun', 'The sun comes out on the section: its wall warms exponentially.', (draft, random) => {
    const from = holdStartS(draft)
    draft.weather.sunK = random.uniform(2, 8)
    draft.weather.sunAtS = random.uniform(from - 600, from + draft.procedure.holdS * 0.6)
    draft.weather.sunTauS = random.uniform(200, 900)
  }),
  situation(
    'early-start',
    'The hold begins 20 s after pump-up, in the middle of the heat.',
    (draft, random) => {
      draft.procedure.dwellS = 0
      draft.procedure.settleS = 20
      draft.procedure.pumpTo = random.uniform(1, 1.1)
    },
  ),
  situation('coarse-converter', 'A 10-bit converter over the whole span, little noise.', (draft, random) => {
    draft.bench.pressure.bits = 10
    const { highPa, lowPa } = draft.bench.pressure
    draft.bench.pressure.whitePa = ((highPa - lowPa) / 1023) * random.uniform(0.1, 0.6)
    if (draft.bench.pressure.kind === 'absolute') draft.bench.pressure.bits = 12
  }),
  situation('moving-barometer', 'The atmosphere moves by 1 to 3 hPa/h, measured.', (draft, random) => {
    draft.weather.barometricRampPaPerS = (sign(random) * random.uniform(100, 300)) / 3600
    draft.weather.barometricSwingPa = random.uniform(0, 15)
  }),
  situation(
    'no-barometer',
    'No barometer, a gauge sensor, and the atmosphere moves by some 0.5 hPa/h.',
    (draft, random) => {
      draft.bench.barometer = null
      draft.bench.pressure = { ...cheapGauge(draft), kind: 'gauge' }
      draft.weather.barometricRampPaPerS = (50 * random.normal()) / 3600
    },
  ),
  situation('partial-thermometer', 'The thermometer shows 80 % of a ramp or swing.', (draft, random) => {
    const { thermometer } = draft.bench
    if (thermometer) thermometer.share = 0.8
    if (random.chance(0.5)) ramp(draft, random, 1, 5)
    else swing(draft, random, 0.5, 1.5)
  }),
  situation('creep', 'Hose or sealant goes on stretching after pump-up.', (draft, random, kind) => {
    const testPa = draft.procedure.pressurePsi * psiPa
    const share = kind === 'line' ? random.uniform(0.0005, 0.004) : random.uniform(0.0002, 0.0015)
    draft.vessel.creepPerPa = share / testPa
    draft.vessel.creepTauS = kind === 'line' ? random.uniform(60, 240) : random.uniform(120, 600)
  }),
  situation('sensor-drift', 'The zero of the transducer walks and drifts.', (draft, random) => {
    const { allow, holdS } = draft.procedure
    const dropPa = allow.kind === 'drop' ? allow.dropPsi * psiPa : 0.08 * psiPa
    draft.bench.pressure.walkPaPerSqrtS = (dropPa * random.uniform(0.02, 0.12)) / Math.sqrt(holdS)
    draft.bench.pressure.driftPaPerS = (dropPa * random.uniform(-0.03, 0.03)) / holdS
  }),
  situation(
    'breathing',
    'The volume grows by up to 200 % per bar and the file does not say so.',
    (draft, random, kind) => {
      draft.stated.stretchPercentPerBar = null
      // A leak in mol/s asks for a volume that nobody knows here: a workshop would mostly state a drop.
      if (draft.procedure.allow.kind === 'leak' && random.chance(0.8)) {
        draft.procedure.allow = { kind: 'drop', dropPsi: kind === 'line' ? 0.1 : 0.05 }
      }
      const percentPerBar = random.uniform(kind === 'line' ? 0 : 20, kind === 'line' ? 60 : 200)
      draft.vessel.stretchPerPa = percentPerBar / 1e7
      if (random.chance(0.6)) ramp(draft, random, 0.3, 3)
    },
  ),
]

/** The transducer as a gauge of the span that suits the test pressure. */
function cheapGauge(draft: Draft): TransducerSpec {
  const { pressure } = draft.bench
  if (pressure.kind === 'gauge') return pressure
  const spanPsi = draft.stated.kind === 'line' ? (draft.procedure.pressurePsi > 20 ? 60 : 30) : 5
  const highPa = spanPsi * psiPa
  const stepPa = highPa / 2 ** 14
  return {
    ...pressure,
    kind: 'gauge',
    lowPa: 0,
    highPa,
    bits: 14,
    whitePa: stepPa,
    flickerPa: 0,
    offsetPa: 0.001 * highPa,
  }
}
