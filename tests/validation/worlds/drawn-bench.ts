import type { Random } from '#ingest/simulator/random.ts'
import type { AirStory } from './air-around.ts'
import type { InstrumentBuild } from './bench-instruments.ts'
import { leakOfDrop, type SectionBuild } from './gas-section.ts'

/** What is wrong at the bench; `none` is an ordinary one. */
export const benchFaults = [
  'none',
  'cock-shut-in-settle',
  'cock-shut-in-hold',
  'supply-seeps',
  'regulator-on',
  'needle-open',
  'wet',
  'thermometer-in-air',
  'zero-drifts',
  'hose-clogged',
] as const
export type BenchFault = (typeof benchFaults)[number]

export type SectionSort = 'line' | 'tank'

interface PrescribedHold {
  readonly psi: number
  readonly settleS: number
  readonly holdS: number
  readonly allowPa: number
  readonly spanPa: number
}

/** The prescribed holds: common practice of small-aircraft work, as figures of our own. */
const prescribed: Readonly<Record<SectionSort, readonly PrescribedHold[]>> = {
  line: [
    { psi: 5, settleS: 120, holdS: 300, allowPa: 350, spanPa: 206_843 },
    { psi: 10, settleS: 120, holdS: 600, allowPa: 690, spanPa: 206_843 },
    { psi: 15, settleS: 120, holdS: 600, allowPa: 1000, spanPa: 206_843 },
  ],
  tank: [
    { psi: 0.5, settleS: 300, holdS: 1200, allowPa: 80, spanPa: 13_790 },
    { psi: 1, settleS: 300, holdS: 900, allowPa: 120, spanPa: 13_790 },
    { psi: 3.5, settleS: 300, holdS: 900, allowPa: 350, spanPa: 34_474 },
  ],
}

/** Everything one bench is made of, drawn once. */
export interface DrawnBench {
  readonly sort: SectionSort
  readonly hold: PrescribedHold
  readonly testPa: number
  readonly statedM3: number
  readonly statedStretchPerBar: number | null
  readonly section: SectionBuild
  readonly story: AirStory
  readonly gauge: InstrumentBuild
  readonly thermometer: InstrumentBuild
  /** Share of room air in what the thermometer touches. */
  readonly thermometerAir: number
  readonly barometer: InstrumentBuild | null
  readonly samplesPerS: number
  readonly pumpS: number
  /** Pumped above the test pressure, as a share of it. */
  readonly overfill: number
}

/**
 * Draws a bench. The figures come from the build of such sections (0.8 mm of aluminium is 1.9 kJ/m²K, 8 W/m²K outside it,
 * 1 to 3 W/m²K of free convection inside) and from data sheets of cheap sensors as remembered; none is taken from the analysis.
 *
 * @param leak in multiples of the allowed drop, of the true volume
 */
export function drawBench(random: Random, sort: SectionSort, leak: number, fault: BenchFault): DrawnBench {
  const line = sort === 'line'
  const hold = random.pick(prescribed[sort])
  const testPa = hold.psi * 6894.757293
  const statedM3 = Number((line ? random.uniform(0.2e-3, 0.6e-3) : random.uniform(0.04, 0.1)).toPrecision(2))
  const stretchPerPa = (line ? random.uniform(0.0005, 0.015) : random.uniform(0.02, 0.2)) / 1e5
  const lag = (median: number, spread: number): number => median * Math.exp(spread * random.normal())
  const unleaking: Omit<SectionBuild, 'leakMolPerS'> = {
    volumeM3: statedM3 * (1 + random.uniform(-0.09, 0.09)),
    stretchPerPa,
    creep: [18, 110, 700].map((tauS) => ({ share: random.uniform(0, line ? 0.08 : 0.04), tauS })),
    gasTauS: line ? lag(11, 0.5) : lag(120, 0.4),
    convectionExponent: line ? 0.12 : random.uniform(0.22, 0.34),
    skinOverGas: line ? lag(300, 0.6) : lag(35, 0.3),
    skinTauS: line ? lag(200, 0.4) : lag(260, 0.3),
    skinStructureTauS: line ? lag(400, 0.4) : lag(900, 0.4),
    structureTauS: lag(1500, 0.3),
    vaporPa: fault === 'wet' ? hold.allowPa * random.uniform(1.5, 6) : 0,
    vaporTauS: lag(500, 0.6),
    vaporStart: random.uniform(0.2, 0.7),
    laminarShare: random.uniform(0.4, 1),
    testPa,
  }
  const startK = 273.15 + random.uniform(8, 28)
  return {
    sort,
    hold,
    testPa,
    statedM3,
    statedStretchPerBar: random.chance(0.5) ? stretchPerPa * 1e5 * Math.exp(0.15 * random.normal()) : null,
    section: { ...unleaking, leakMolPerS: leakOfDrop(unleaking, leak * hold.allowPa, hold.holdS, startK) },
    story: drawStory(random, startK),
    gauge: drawGauge(random, hold.spanPa),
    thermometer: {
      ...quietInstrument,
      whiteStd: random.pick([0.01, 0.02, 0.04]),
      flickerStd: random.pick([0.001, 0.003]),
      step: random.pick([0.01, 0.0625, 0.0625]),
      zero: 0.4 * random.normal(),
      filterTauS: lag(15, 0.5),
    },
    thermometerAir: fault === 'thermometer-in-air' ? 1 : random.uniform(0, 0.12),
    barometer: random.chance(0.85)
      ? {
          ...quietInstrument,
          whiteStd: random.pick([0.7, 1.5, 4]),
          flickerStd: 0.4,
          step: random.pick([0.1, 1, 10]),
          zero: 60 * random.normal(),
        }
      : null,
    samplesPerS: random.pick([1, 2, 4, 8]),
    pumpS: line ? random.uniform(8, 30) : random.uniform(60, 180),
    overfill: random.uniform(0.02, 0.06),
  }
}

const quietInstrument: InstrumentBuild = {
  whiteStd: 0,
  flickerStd: 0,
  step: 0,
  low: Number.NEGATIVE_INFINITY,
  high: Number.POSITIVE_INFINITY,
  gain: 1,
  zero: 0,
  zeroPerK: 0,
  lateShare: 0,
  lateTauS: 100,
  filterTauS: 0,
}

function drawGauge(random: Random, spanPa: number): InstrumentBuild {
  return {
    whiteStd: spanPa * random.pick([2e-5, 6e-5, 1.5e-4]),
    flickerStd: spanPa * random.uniform(0.2e-5, 1.2e-5),
    step: spanPa * random.pick([1 / 65536, 1 / 16384, 1 / 4096]),
    low: -0.02 * spanPa,
    high: spanPa,
    gain: 1 + 0.001 * random.normal(),
    zero: 0.0015 * spanPa * random.normal(),
    zeroPerK: 5e-5 * spanPa * random.normal(),
    lateShare: random.uniform(0, 6e-4),
    lateTauS: random.uniform(60, 400),
    filterTauS: random.chance(0.3) ? random.uniform(0.3, 2) : 0,
  }
}

function drawStory(random: Random, startK: number): AirStory {
  const mood = random.pick(['quiet', 'quiet', 'ramp', 'swing', 'draughty', 'sun'])
  return {
    startK,
    rampKPerS:
      mood === 'ramp'
        ? (random.pick([-1, 1]) * random.uniform(1, 4)) / 3600
        : random.uniform(-0.4, 0.4) / 3600,
    swingK: mood === 'swing' ? random.uniform(0.3, 1) : 0.05,
    swingPeriodS: random.uniform(300, 1500),
    draughtK: mood === 'draughty' ? random.uniform(0.15, 0.5) : 0.04,
    sunK: mood === 'sun' ? random.uniform(1, 4) : 0,
    sunFromS: random.uniform(100, 900),
    barometricPa: random.uniform(96_000, 103_000),
    barometricPaPerS: random.uniform(-80, 80) / 3600,
    gustPa: random.uniform(0.3, 2.5),
  }
}
