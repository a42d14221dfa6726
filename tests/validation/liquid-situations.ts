import type { Mark, Recording } from '#analysis/model/samples.ts'
import type { Channel, HoldSpec, Medium, System } from '#analysis/model/system.ts'
import { barometer, thermometer, transducer } from '#ingest/simulator/instruments.ts'
import { type Random, seededRandom } from '#ingest/simulator/random.ts'
import { psiPa } from '#tests/simulator/units.ts'
import type { Weather } from '#tests/simulator/weather.ts'
import { type LiquidLine, LiquidWorld } from './liquid-world.ts'

/** Fuels as sold, drawn about round figures. Source: from memory, common tables; the analysis uses API MPMS 11.1. */
const fuels: Readonly<Record<string, { perK: number; perPa: number; heat: number }>> = {
  avgas: { perK: 1.26e-3, perPa: 1.18e-9, heat: 720 * 2100 },
  mogas: { perK: 1.18e-3, perPa: 1.08e-9, heat: 745 * 2080 },
  'jet-a': { perK: 0.91e-3, perPa: 0.82e-9, heat: 804 * 1980 },
}

interface Walls {
  readonly perPa: (random: Random) => number
  readonly perK: number
  readonly wallTauS: readonly [low: number, high: number]
}

/** Tubes of metal hardly stretch; a hose takes a good share of what is pushed in. Source: common practice. */
const walls: Readonly<Record<string, Walls>> = {
  aluminium: { perPa: (r) => r.uniform(1, 4) * 1e-10, perK: 7.1e-5, wallTauS: [60, 200] },
  steel: { perPa: (r) => r.uniform(0.3, 1.5) * 1e-10, perK: 3.6e-5, wallTauS: [60, 200] },
  hose: { perPa: (r) => 10 ** r.uniform(-9, -8), perK: 1.5e-4, wallTauS: [120, 400] },
}

interface LiquidDraft {
  line: { -readonly [K in keyof LiquidLine]: LiquidLine[K] }
  weather: { -readonly [K in keyof Weather]: Weather[K] }
  medium: Medium
  wall: string
  statesStretch: boolean
  statedL: number
  tolerancePercent: number
  pressurePsi: number
  settleS: number
  holdS: number
  pumpUpS: number
  /** Known volume pushed in while it settles, [m³]; 0: none. */
  strokeM3: number
  allowM3PerS: number
  /** Allowance in pascal in place of a rate; null: the rate is stated. */
  allowDropPa: number | null
}

type Change = (draft: LiquidDraft, random: Random) => void

/** What is special about each situation, beside its name. */
const changes: Readonly<Record<string, Change>> = {
  steady: () => {},
  'steady, no stroke': (draft) => {
    draft.strokeM3 = 0
  },
  ramp: (draft, random) => {
    draft.weather.roomRampKPerS = (sign(random) * random.uniform(1, 5)) / 3600
  },
  swing: (draft, random) => {
    const amplitudeK = random.uniform(0.2, 1)
    const periodS = random.uniform(240, 1500)
    draft.weather.swings = [{ amplitudeK, periodS, phase: random.uniform(0, 2 * Math.PI) }]
  },
  'swing, no stroke': (draft, random) => {
    changes.swing(draft, random)
    draft.strokeM3 = 0
  },
  sun: (draft, random) => {
    draft.weather.sunK = random.uniform(1, 4)
    draft.weather.sunAtS = draft.settleS + random.uniform(-300, 0.6 * draft.holdS)
    draft.weather.sunTauS = random.uniform(200, 900)
  },
  'early start': (draft) => {
    draft.settleS = draft.strokeM3 > 0 ? 45 : 20
  },
  creep: (draft, random) => {
    draft.line.creepPerPa = draft.line.wallPerPa * random.uniform(0.02, 0.1)
    draft.line.creepTauS = random.uniform(60, 240)
    if (random.chance(0.5)) draft.line.solutionTauS = random.uniform(100, 400) * draft.holdS
  },
}

/** Every situation with what it is, in one sentence. */
export const liquidSituations: Readonly<Record<string, string>> = {
  steady: 'A quiet room: under 0.3 K/h, swings under 0.03 K; a known stroke is pushed in while it settles.',
  'steady, no stroke': 'The same without a stroke: only the response to temperature tells the stiffness.',
  ramp: 'The room warms or cools by 1 to 5 K/h throughout.',
  swing: 'The room swings by ±0.2 to 1 K in 4 to 25 min.',
  'swing, no stroke': 'The same without a stroke.',
  sun: 'The sun comes out on the line and warms it by 1 to 4 K, one stretch more than the other.',
  'early start': 'The hold begins 45 s after pump-up.',
  creep:
    'The walls go on yielding by 2 to 10 % of their stretch; in half of the holds air goes into solution.',
}

const sign = (random: Random) => (random.chance(0.5) ? 1 : -1)
const rounded = (value: number, digits: number) => Number(value.toPrecision(digits))

export interface LiquidPlay {
  readonly system: System
  readonly recording: Recording
  readonly medium: Medium
  readonly wall: string
  readonly stretchStated: boolean
  /** Leak at the stated pressure, [m³/s], and as a drop in the stated hold time, [Pa]. */
  readonly leakM3PerS: number
  readonly dropPa: number
}

/** One seeded hold of a line full of fuel, played through and read with cheap instruments. */
export function playLiquid(
  situation: string,
  seed: number,
  leakOverAllowance: number,
  longerS = 0,
): LiquidPlay {
  const random = seededRandom(seed, 77)
  const draft = draftOf(random)
  changes[situation](draft, random)
  return play(draft, seed, leakOverAllowance, longerS)
}

/** The same line drawn down below the atmosphere, as before an engine's pump: what leaks comes in, and the pressure rises. */
export function playLiquidSuction(seed: number, vacuumPsi: number, leakOverAllowance: number): LiquidPlay {
  const random = seededRandom(seed, 76)
  const draft = draftOf(random)
  const { line, holdS } = draft
  const testPa = vacuumPsi * psiPa
  const compliancePerPa = line.fuelPerPa + line.wallPerPa + (line.airShare * 101325) / (101325 - testPa) ** 2
  const whole = line.volumeM3 * compliancePerPa * testPa
  const allowedShare = 10 ** random.uniform(-1.5, -0.6)
  draft.pressurePsi = -vacuumPsi
  draft.strokeM3 = rounded(whole * random.uniform(0.08, 0.25), 1)
  draft.allowM3PerS = rounded((whole * allowedShare * 60e6) / holdS, 2) / 60e6
  draft.allowDropPa = random.chance(0.5) ? rounded(testPa * allowedShare, 2) : null
  return play(draft, seed, leakOverAllowance, 0)
}

function draftOf(random: Random): LiquidDraft {
  const medium = random.pick(['avgas', 'mogas', 'jet-a'] as const)
  const wall = random.pick(['aluminium', 'steel', 'hose'])
  const fuel = fuels[medium]
  const metal = walls[wall]
  const statedL = rounded(random.uniform(0.1, 1), 2)
  const tolerancePercent = random.pick([5, 10, 15])
  const volumeM3 = (statedL / 1000) * (1 + (tolerancePercent / 100) * random.uniform(-1, 1))
  const pressurePsi = random.pick([5, 8, 10, 15, 20, 30, 50])
  const testPa = pressurePsi * psiPa
  const airShare = random.chance(0.1) ? 0 : 10 ** random.uniform(-3.3, -1.7)
  const wallPerPa = metal.perPa(random)
  const holdS = random.pick([300, 600, 600, 900])
  const airAtTest = (airShare * 101325) / (testPa + 101325) ** 2
  const compliancePerPa = fuel.perPa + wallPerPa + airAtTest
  const wallTauS = random.uniform(...metal.wallTauS)
  const share = random.uniform(0.4, 0.8)
  // What a workshop would allow: a few hundredths of what went in while pumping up.
  const allowedShare = 10 ** random.uniform(-1.5, -0.6)
  const roomK = 273.15 + random.uniform(8, 30)
  return {
    line: {
      volumeM3,
      radiusM: random.pick([3e-3, 4e-3, 4e-3, 5e-3, 7e-3]),
      airShare,
      wallPerPa,
      creepPerPa: 0,
      creepTauS: 100,
      solutionTauS: Number.POSITIVE_INFINITY,
      wallPerK: metal.perK,
      fuelPerK: fuel.perK * random.uniform(0.96, 1.04),
      fuelPerK2: 1.5e-6,
      fuelPerPa: fuel.perPa * random.uniform(0.92, 1.08),
      heatJPerM3K: fuel.heat,
      stretches: [
        { share, wallTauS, sun: 1 },
        { share: 1 - share, wallTauS: wallTauS * random.uniform(0.8, 1.25), sun: random.uniform(0.75, 1.1) },
      ],
    },
    weather: {
      roomK,
      roomRampKPerS: random.uniform(-0.3, 0.3) / 3600,
      swings: [
        {
          amplitudeK: random.uniform(0, 0.03),
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
    },
    medium,
    wall,
    statesStretch: random.chance(0.5),
    statedL,
    tolerancePercent,
    pressurePsi,
    settleS: random.pick([120, 180, 300]),
    holdS,
    pumpUpS: random.uniform(8, 30),
    strokeM3: rounded(volumeM3 * compliancePerPa * testPa * random.uniform(0.08, 0.25), 1),
    allowM3PerS: rounded((volumeM3 * compliancePerPa * testPa * allowedShare * 60e6) / holdS, 2) / 60e6,
    allowDropPa: random.chance(0.25) ? rounded(testPa * allowedShare, 2) : null,
  }
}

const holdId = 'wet-hold'
const beforeS = 20
const ventS = 20
const strokeAtS = 22

function play(draft: LiquidDraft, seed: number, leakOverAllowance: number, longerS: number): LiquidPlay {
  const { line, weather, pumpUpS, settleS } = draft
  const holdS = draft.holdS + longerS
  const world = new LiquidWorld(line, weather)
  const random = seededRandom(seed, 78)
  const testPa = draft.pressurePsi * psiPa
  const way = Math.sign(testPa)
  const spanPa = psiPa * (draft.pressurePsi <= 10 ? 30 : draft.pressurePsi <= 20 ? 60 : 150)
  const stepPa = spanPa / 2 ** 14
  const readPressure = transducer(
    {
      kind: 'gauge',
      lowPa: lowestPa(draft),
      highPa: spanPa,
      bits: 14,
      whitePa: stepPa * random.uniform(0.5, 2),
      flickerPa: stepPa * random.uniform(0, 0.3),
      flickerTauS: random.uniform(10, 60),
      walkPaPerSqrtS: 0,
      driftPaPerS: 0,
      offsetPa: spanPa * random.uniform(-0.002, 0.002),
      gain: 1 + random.uniform(-0.0025, 0.0025),
    },
    seededRandom(seed, 79),
  )
  const readTemperature = thermometer(
    {
      touches: 'wall',
      lagS: random.uniform(5, 60),
      whiteK: random.uniform(0.005, 0.03),
      resolutionK: random.pick([0.01, 0.01, 0.0625]),
      offsetK: random.uniform(-0.5, 0.5),
      share: 1,
    },
    seededRandom(seed, 80),
  )
  const readBarometer = barometer(
    { whitePa: 4, resolutionPa: 2, offsetPa: random.uniform(-100, 100) },
    seededRandom(seed, 81),
  )
  const pushedM3 = draft.strokeM3 * (1 + 0.02 * random.normal())
  const hz = random.pick([1, 2, 5])
  const settleAtS = beforeS + pumpUpS + 5
  const holdAtS = settleAtS + settleS
  const ventAtS = holdAtS + holdS
  const endS = ventAtS + ventS
  const pumpTo = random.uniform(0.98, 1.06)

  // the leak: stated as a rate, or by the drop it makes with the yield that is really there
  let leakM3PerS = leakOverAllowance * draft.allowM3PerS
  const dtS = 0.2
  const timeS: number[] = []
  const gauge: number[] = []
  const kelvin: number[] = []
  const weatherPa: number[] = []
  let yieldAtTest = world.compliancePerPa
  let nextS = 0
  for (let t = 0; t < endS; t += dtS) {
    let inM3 = -way * (leakM3PerS * (world.gaugePa / testPa)) * dtS
    if (t >= beforeS && t < settleAtS) {
      const wantedPa = testPa * pumpTo * Math.min(1, (t - beforeS) / pumpUpS)
      const pumped =
        (wantedPa - world.gaugePa) * world.compliancePerPa * line.volumeM3 * Math.min(1, dtS / 0.6)
      inM3 = way * Math.max(0, way * pumped)
    } else if (t >= settleAtS && t - dtS < settleAtS) {
      yieldAtTest = yieldAt(world, testPa)
      if (draft.allowDropPa !== null)
        leakM3PerS = (leakOverAllowance * draft.allowDropPa * line.volumeM3 * yieldAtTest) / draft.holdS
    } else if (pushedM3 > 0 && t >= settleAtS + strokeAtS - 0.5 && t < settleAtS + strokeAtS + 0.5 - 1e-9) {
      inM3 += pushedM3 * dtS
    } else if (t >= ventAtS) {
      inM3 = -world.gaugePa * world.compliancePerPa * line.volumeM3 * (dtS / 2)
    }
    world.step(dtS, inM3)
    if (t + 1e-9 < nextS) continue
    nextS += 1 / hz
    timeS.push(t)
    gauge.push(readPressure(world.gaugePa, t))
    kelvin.push(readTemperature(world.wallK, t))
    weatherPa.push(readBarometer(world.atmospherePa, t))
  }
  const mark = (atS: number, kind: Mark['kind'], fields: Mark['fields']): Mark => ({
    timeNs: String(1767225600000000000n + BigInt(Math.round(atS * 1e9))),
    timeS: atS,
    kind,
    id: null,
    hold: kind === 'stage' ? holdId : null,
    fields,
  })
  const marks = [
    mark(beforeS, 'stage', { name: 'pump-up' }),
    mark(settleAtS, 'stage', { name: 'settle' }),
    ...(draft.strokeM3 > 0
      ? [mark(settleAtS + strokeAtS, 'stroke', { volume_mL: draft.strokeM3 * 1e6 })]
      : []),
    mark(holdAtS, 'stage', { name: 'hold' }),
    mark(ventAtS, 'stage', { name: 'vent' }),
    mark(endS, 'stage', { name: 'end' }),
  ]
  const times = Float64Array.from(timeS)
  return {
    system: systemOf(draft, spanPa, stepPa),
    recording: {
      name: `wet-${seed}.lp`,
      startNs: '1767225600000000000',
      channels: [
        { channel: 'p', timeS: times, reading: Float64Array.from(gauge) },
        { channel: 't', timeS: times, reading: Float64Array.from(kelvin) },
        { channel: 'baro', timeS: times, reading: Float64Array.from(weatherPa) },
      ],
      marks,
      rejectedLines: 0,
      missingSequence: 0,
    },
    medium: draft.medium,
    wall: draft.wall,
    stretchStated: draft.statesStretch,
    leakM3PerS,
    dropPa: (leakM3PerS * draft.holdS) / (line.volumeM3 * yieldAtTest),
  }
}

/** The yield carried from the present pressure to the stated one: the air's part goes as 1/p². */
function yieldAt(world: LiquidWorld, gaugePa: number): number {
  const now = world.gaugePa + world.atmospherePa
  const there = gaugePa + world.atmospherePa
  const air = world.airYieldPerPa
  return world.compliancePerPa - air + air * (now / there) ** 2
}

/** Lower end of the gauge's span, [Pa]. */
function lowestPa({ pressurePsi }: LiquidDraft): number {
  return pressurePsi < 0 ? -15 * psiPa : -psiPa
}

function systemOf(draft: LiquidDraft, spanPa: number, stepPa: number): System {
  const channel = (id: string, measures: Channel['measures'], section: string | null): Channel => ({
    id,
    measures,
    section,
    from: { measurement: 'logger', field: id, tags: {} },
    unit: measures === 'temperature' ? 'degC' : 'psi',
    scale: null,
    rangeSi: measures === 'gauge-pressure' ? [lowestPa(draft), spanPa] : null,
    resolutionSi: measures === 'gauge-pressure' ? stepPa : null,
    accuracySi: measures === 'gauge-pressure' ? 0.0025 * spanPa : null,
    calibration: null,
  })
  const volumeM3 = draft.statedL / 1000
  const hold: HoldSpec = {
    id: holdId,
    sections: ['feed'],
    shut: [],
    pressurePa: draft.pressurePsi * psiPa,
    settleS: draft.settleS,
    holdS: draft.holdS,
    allow:
      draft.allowDropPa === null
        ? { kind: 'liquid-leak', m3PerS: draft.allowM3PerS }
        : { kind: draft.pressurePsi < 0 ? 'rise' : 'drop', dropPa: draft.allowDropPa },
    allowSource: null,
    rig: null,
  }
  return {
    name: 'line full of fuel',
    sccReferenceK: 273.15,
    channels: [
      channel('p', 'gauge-pressure', 'feed'),
      channel('t', 'temperature', 'feed'),
      channel('baro', 'barometric-pressure', null),
    ],
    sections: [
      {
        id: 'feed',
        medium: draft.medium,
        volumeM3,
        volumeToleranceM3: (volumeM3 * draft.tolerancePercent) / 100,
        maxPressurePa: draft.pressurePsi < 0 ? null : 2 * draft.pressurePsi * psiPa,
        maxVacuumPa: draft.pressurePsi < 0 ? -2 * draft.pressurePsi * psiPa : null,
        stretchPerPa: draft.statesStretch ? rounded(draft.line.wallPerPa, 2) : null,
        kind: 'line',
        capacityM3: null,
        unusableM3: null,
      },
    ],
    fittings: [],
    valves: [],
    holds: [hold],
  }
}
