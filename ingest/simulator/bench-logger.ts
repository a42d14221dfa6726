import type { Channel, System } from '#analysis/model/system.ts'
import { toUnit } from '#analysis/physics/units.ts'
import type { BenchWorld } from './bench-world.ts'
import { barometer, type Instrument, thermometer, transducer } from './instruments.ts'
import { seededRandom } from './random.ts'

/**
 * A disturbance of the instruments: the reading of a channel in place of `read(trueSi)`, its instrument's reading of the
 * true value; null where the logger sends none.
 */
export type Disturbance = (
  channel: Channel,
  timeS: number,
  trueSi: number,
  read: (trueSi: number) => number,
) => number | null

/** Bits of the demo logger's converters. */
const converterBits = 14

/** The demo workshop's logger: reads the simulated world through cheap instruments and writes line protocol. */
export class BenchLogger {
  readonly #inputs: readonly Input[]
  readonly #disturb: Disturbance

  constructor(
    system: System,
    seed: number,
    disturb: Disturbance = (_, _timeS, trueSi, read) => read(trueSi),
  ) {
    this.#disturb = disturb
    this.#inputs = system.channels.flatMap((channel, index) => inputOf(channel, seed, index) ?? [])
  }

  /** The lines of one instant, one per measurement and set of tags, without the line end. */
  read(world: BenchWorld, stampNs: bigint): string[] {
    const lines = new Map<string, string[]>()
    const timeS = world.nowS
    for (const { channel, instrument, sense } of this.#inputs) {
      const { from, unit } = channel
      const reading = this.#disturb(channel, timeS, sense(world), (trueSi) => instrument(trueSi, timeS))
      if (reading === null) continue
      const tags = Object.entries(from.tags).map(([key, value]) => `,${key}=${value}`)
      const head = `${from.measurement}${tags.join('')}`
      const number = Number(toUnit(reading, unit).toFixed(5))
      const fields = lines.get(head)
      if (fields === undefined) lines.set(head, [`${from.field}=${number}`])
      else fields.push(`${from.field}=${number}`)
    }
    return [...lines].map(([head, fields]) => `${head} ${fields.join(',')} ${stampNs}`)
  }
}

interface Input {
  readonly channel: Channel
  readonly instrument: Instrument
  readonly sense: (world: BenchWorld) => number
}

function inputOf(channel: Channel, seed: number, index: number): Input | null {
  const random = seededRandom(seed, 100 + index)
  const { section, measures } = channel
  const input = (instrument: Instrument, sense: Input['sense']): Input => ({ channel, instrument, sense })
  if (measures === 'barometric-pressure') {
    const spec = { whitePa: 2, resolutionPa: 1, offsetPa: random.uniform(-60, 60) }
    return input(barometer(spec, random), (world) => world.atmospherePa)
  }
  // Scaled raw numbers (volts, ohms), level senders and flow meters are not part of a gas hold's demo.
  if (section === null || channel.scale !== null) return null
  if (measures === 'temperature') {
    const spec = {
      touches: 'wall' as const,
      lagS: random.uniform(8, 20),
      whiteK: 0.01,
      resolutionK: 0.01,
      offsetK: random.uniform(-0.3, 0.3),
      share: 1,
    }
    return input(thermometer(spec, random), (world) => world.section(section).wallK)
  }
  if (measures === 'gauge-pressure' || measures === 'absolute-pressure') {
    const gauge = measures === 'gauge-pressure'
    const [lowPa, highPa] = channel.rangeSi ?? [0, gauge ? 2e5 : 4e5]
    const stepPa = (highPa - lowPa) / (2 ** converterBits - 1)
    const spec = {
      kind: gauge ? ('gauge' as const) : ('absolute' as const),
      lowPa,
      highPa,
      bits: converterBits,
      whitePa: stepPa * random.uniform(0.8, 1.4),
      flickerPa: stepPa * 0.15,
      flickerTauS: 30,
      walkPaPerSqrtS: 0,
      driftPaPerS: 0,
      // A zero slightly above the end of the span, so that it does not clip at rest.
      offsetPa: (highPa - lowPa) * random.uniform(0.0004, 0.001),
      gain: 1 + random.uniform(-0.001, 0.001),
    }
    return input(transducer(spec, random), (world) =>
      gauge ? world.gaugePa(section) : world.section(section).absolutePa,
    )
  }
  return null
}
