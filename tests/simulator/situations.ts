import type { TransducerSpec } from '#ingest/simulator/instruments.ts'
import { type Random, seededRandom } from '#ingest/simulator/random.ts'
import { plainHold, type SectionKind } from './plain-hold.ts'
import type { Scenario } from './scenario.ts'
import { psiPa } from './units.ts'

export type { SectionKind } from './plain-hold.ts'

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

interface SingleChange {
  readonly name: string
  readonly about: string
  readonly change: Change
}

function situation({ name, about, change }: SingleChange): Situation {
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

function special(name: string, about: string, change: Change): SingleChange {
  return { name, about, change }
}

/** FNV-1a of the name: the same seed draws another hold in another situation. */
function streamOf(name: string): number {
  let hash = 0x811c9dc5
  for (let i = 0; i < name.length; i++) hash = Math.imul(hash ^ name.charCodeAt(i), 0x01000193)
  return hash
}

function sign(random: Random): number {
  return random.chance(0.5) ? 1 : -1
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

function coarseConverter(draft: Draft, random: Random): void {
  const { pressure } = draft.bench
  pressure.bits = pressure.kind === 'absolute' ? 12 : 10
  const stepPa = (pressure.highPa - pressure.lowPa) / (2 ** pressure.bits - 1)
  pressure.whitePa = stepPa * random.uniform(0.1, 0.6)
  pressure.flickerPa = 0
  // Nobody states a drop of a step or two; the figure goes up to what the plan would allow.
  const { allow } = draft.procedure
  if (allow.kind === 'drop') {
    const leastPsi = Math.ceil(((4 * stepPa) / psiPa) * 100) / 100
    draft.procedure.allow = { kind: 'drop', dropPsi: Math.max(allow.dropPsi, leastPsi) }
  }
}

/** What is special about each situation, alone. */
const changes: readonly SingleChange[] = [
  special('steady', 'A quiet room: under 0.3 K/h and 0.3 hPa/h.', () => {}),
  special('ramp', 'The room warms or cools by 1 to 5 K/h throughout.', (draft, random) =>
    ramp(draft, random, 1, 5),
  ),
  special('swings', 'The room swings by ±0.5 to 2 K, or a door lets it drop.', (draft, random) => {
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
  special('sun', 'The sun comes out on the section: its wall warms exponentially.', (draft, random) => {
    const from = holdStartS(draft)
    draft.weather.sunK = random.uniform(2, 8)
    draft.weather.sunAtS = random.uniform(from - 600, from + draft.procedure.holdS * 0.6)
    draft.weather.sunTauS = random.uniform(200, 900)
  }),
  special(
    'early-start',
    'The hold begins 20 s after pump-up, in the middle of the heat.',
    (draft, random) => {
      draft.procedure.dwellS = 0
      draft.procedure.settleS = 20
      draft.procedure.pumpTo = random.uniform(1, 1.1)
    },
  ),
  special('coarse-converter', 'A 10-bit converter over the whole span, little noise.', coarseConverter),
  special('moving-barometer', 'The atmosphere moves by 1 to 3 hPa/h, measured.', (draft, random) => {
    draft.weather.barometricRampPaPerS = (sign(random) * random.uniform(100, 300)) / 3600
    draft.weather.barometricSwingPa = random.uniform(0, 15)
  }),
  special(
    'no-barometer',
    'No barometer, a gauge sensor, and the atmosphere moves by some 0.5 hPa/h.',
    (draft, random) => {
      draft.bench.barometer = null
      draft.bench.pressure = { ...cheapGauge(draft), kind: 'gauge' }
      draft.weather.barometricRampPaPerS = (50 * random.normal()) / 3600
    },
  ),
  special('partial-thermometer', 'The thermometer shows 80 % of a ramp or swing.', (draft, random) => {
    const { thermometer } = draft.bench
    if (thermometer) thermometer.share = 0.8
    if (random.chance(0.5)) ramp(draft, random, 1, 5)
    else swing(draft, random, 0.5, 1.5)
  }),
  special('creep', 'Hose or sealant goes on stretching after pump-up.', (draft, random, kind) => {
    const testPa = draft.procedure.pressurePsi * psiPa
    const share = kind === 'line' ? random.uniform(0.0005, 0.004) : random.uniform(0.0002, 0.0015)
    draft.vessel.creepPerPa = share / testPa
    draft.vessel.creepTauS = kind === 'line' ? random.uniform(60, 240) : random.uniform(120, 600)
  }),
  special('sensor-drift', 'The zero of the transducer walks and drifts.', (draft, random) => {
    const { allow, holdS } = draft.procedure
    const dropPa = allow.kind === 'drop' ? allow.dropPsi * psiPa : 0.08 * psiPa
    draft.bench.pressure.walkPaPerSqrtS = (dropPa * random.uniform(0.02, 0.12)) / Math.sqrt(holdS)
    draft.bench.pressure.driftPaPerS = (dropPa * random.uniform(-0.03, 0.03)) / holdS
  }),
  special(
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

/** What two troubles at once are drawn from: those that leave a hold decidable in its stated time. */
const mixable = new Set([
  'ramp',
  'swings',
  'moving-barometer',
  'partial-thermometer',
  'creep',
  'sensor-drift',
  'breathing',
])

const mixed = special('mixed', 'Two of the troubles at once.', (draft, random, kind) => {
  const candidates = changes.filter(({ name }) => mixable.has(name))
  const first = random.pick(candidates)
  const second = random.pick(candidates.filter((candidate) => candidate !== first))
  for (const { change } of [first, second]) change(draft, random, kind)
})

export const situations: readonly Situation[] = [...changes, mixed].map(situation)

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
