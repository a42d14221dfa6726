import type { ChannelSamples, Mark, MarkKind, Recording } from '#analysis/model/samples.ts'
import type { System } from '#analysis/model/system.ts'
import { barometer, type Instrument, thermometer, transducer } from '#ingest/simulator/instruments.ts'
import { type Random, seededRandom } from '#ingest/simulator/random.ts'
import { Vessel } from '#ingest/simulator/vessel.ts'
import { benchSystem, simulatedHoldId } from '#tests/simulator/bench-system.ts'
import { leakConductance } from '#tests/simulator/play-hold.ts'
import type { Scenario } from '#tests/simulator/scenario.ts'
import { psiPa } from '#tests/simulator/units.ts'
import { surroundingsAt } from '#tests/simulator/weather.ts'

const stepS = 0.1
const epochNs = 1767225600000000000n

/** What one instant of the logger says, SI; a fault may change any of it, or swallow it by returning null. */
export interface Sample {
  readonly timeS: number
  readonly pressurePa: number
  readonly temperatureK: number | null
  readonly barometricPa: number | null
}

export type SampleFault = (sample: Sample, story: BenchStory) => Sample | null

/**
 * A hold told step by step, with anything that hands can do at a bench: strokes of a hand pump, bleeding, topping up, a
 * slow vent, a cock that is shut. Truth and instruments are those of a simulated scenario; pressures are in psi, and a
 * suction is negative.
 */
export class BenchStory {
  readonly scenario: Scenario
  readonly system: System
  readonly vessel: Vessel
  readonly random: Random
  /** The gauge is parted from the section: it reads the gas of its own line. */
  cockShut = false
  fault: SampleFault | null = null
  nowS = 0
  readonly #conductance: number
  readonly #molPerPa: number
  readonly #instruments: {
    pressure: Instrument
    temperature: Instrument | null
    barometer: Instrument | null
  }
  readonly #samples: Sample[] = []
  readonly #marks: Mark[] = []
  #dueS = 0
  /** Regulator: pressure it keeps, [Pa], and how fast it closes the gap, [s]. */
  #supply: { readonly toPa: () => number; readonly tauS: number } | null = null
  #ventTauS: number | null = null
  #trapped: { readonly pa: number; readonly k: number; gasK: number } | null = null

  constructor(scenario: Scenario, seed: number) {
    this.scenario = scenario
    this.system = benchSystem(scenario).system
    this.vessel = new Vessel(scenario.vessel, surroundingsAt(scenario.weather, 0))
    this.random = seededRandom(seed, 91)
    this.#conductance = leakConductance(scenario)
    this.#molPerPa = this.vessel.mol / this.vessel.absolutePa
    const { bench } = scenario
    this.#instruments = {
      pressure: transducer(bench.pressure, seededRandom(seed, 92)),
      temperature: bench.thermometer && thermometer(bench.thermometer, seededRandom(seed, 93)),
      barometer: bench.barometer && barometer(bench.barometer, seededRandom(seed, 94)),
    }
  }

  get gaugePa(): number {
    return this.vessel.absolutePa - surroundingsAt(this.scenario.weather, this.nowS).atmospherePa
  }

  get gaugePsi(): number {
    return this.gaugePa / psiPa
  }

  wait(seconds: number): void {
    const untilS = this.nowS + seconds
    while (this.nowS < untilS - 1e-9) {
      const dtS = Math.min(stepS, untilS - this.nowS)
      this.nowS += dtS
      this.#step(dtS)
      if (this.nowS >= this.#dueS - 1e-9) this.#read()
    }
  }

  /** A regulator follows a ramp to a pressure and keeps it, until `shutSupply`. */
  pump(toPsi: number, overS: number): void {
    const fromPa = this.gaugePa
    const startS = this.nowS
    const toPa = toPsi * psiPa
    this.#ventTauS = null
    this.#supply = {
      toPa: () => fromPa + (toPa - fromPa) * Math.min(1, (this.nowS - startS) / overS),
      tauS: 1,
    }
    this.wait(overS)
  }

  /** A regulator stays connected and keeps a pressure, whatever the section does. */
  feed(psi: number, tauS = 1): void {
    this.#supply = { toPa: () => psi * psiPa, tauS }
  }

  shutSupply(): void {
    this.#supply = null
  }

  /** Strokes of a hand pump: each gives its share in a third of a second, then nothing until the next. */
  strokes(toPsi: number, count: number, everyS: number): void {
    for (let i = 0; i < count; i++) {
      const given = this.gaugePa + (toPsi * psiPa - this.gaugePa) / (count - i)
      this.#supply = { toPa: () => given, tauS: 0.1 }
      this.wait(0.4)
      this.#supply = null
      this.wait(Math.max(0.1, everyS * this.random.uniform(0.8, 1.3) - 0.4))
    }
  }

  /** Lets some off until the pressure is there. */
  bleed(toPsi: number, tauS: number): void {
    this.#ventTauS = tauS
    const side = Math.sign(this.gaugePsi - toPsi)
    for (let i = 0; i < 20_000 && side * (this.gaugePsi - toPsi) > 0; i++) this.wait(stepS)
    this.#ventTauS = null
  }

  vent(tauS: number, seconds: number): void {
    this.#supply = null
    this.#ventTauS = tauS
    this.wait(seconds)
  }

  closeVent(): void {
    this.#ventTauS = null
  }

  stage(name: string, hold: string | null = simulatedHoldId): void {
    this.mark('stage', null, { name }, hold)
  }

  mark(kind: MarkKind, id: string | null, fields: Mark['fields'], hold: string | null = null): void {
    const ms = Math.round(this.nowS * 1000)
    this.#marks.push({ timeNs: stampNs(ms), timeS: ms / 1000, kind, id, hold, fields })
  }

  /** What the logger and the operator wrote. */
  recording(name = 'story.lp'): Recording {
    const timeS = Float64Array.from(this.#samples, (s) => Math.round(s.timeS * 1000) / 1000)
    const channels: ChannelSamples[] = [
      { channel: 'p-bench', timeS, reading: Float64Array.from(this.#samples, (s) => s.pressurePa) },
    ]
    const column = (channel: string, value: (s: Sample) => number | null) => {
      if (this.#samples.some((s) => value(s) !== null))
        channels.push({
          channel,
          timeS,
          reading: Float64Array.from(this.#samples, (s) => value(s) ?? Number.NaN),
        })
    }
    column('t-bench', (s) => s.temperatureK)
    column('baro', (s) => s.barometricPa)
    return {
      name,
      startNs: stampNs(0),
      channels,
      marks: this.#marks,
      rejectedLines: 0,
      missingSequence: 0,
    }
  }

  #step(dtS: number): void {
    const { vessel, scenario } = this
    const at = surroundingsAt(scenario.weather, this.nowS)
    const gaugePa = vessel.absolutePa - at.atmospherePa
    let flow = -this.#conductance * (vessel.absolutePa ** 2 - at.atmospherePa ** 2)
    if (this.#supply !== null) {
      const toward = (this.#molPerPa * (this.#supply.toPa() - gaugePa)) / this.#supply.tauS
      // A regulator gives and does not take; a suction pump takes and does not give.
      flow += scenario.procedure.pressurePsi < 0 ? Math.min(0, toward) : Math.max(0, toward)
    }
    if (this.#ventTauS !== null) flow -= (this.#molPerPa * gaugePa) / this.#ventTauS
    vessel.step(dtS, at, Math.max(0, flow), at.roomK, Math.max(0, -flow))
    if (!this.cockShut) this.#trapped = null
    else {
      this.#trapped ??= { pa: vessel.absolutePa, k: vessel.gasK, gasK: vessel.gasK }
      this.#trapped.gasK += ((at.roomK - this.#trapped.gasK) * dtS) / 15
    }
  }

  #read(): void {
    const { bench, weather } = this.scenario
    this.#dueS += 1 / bench.sampleHz
    const { atmospherePa } = surroundingsAt(weather, this.nowS)
    const line = this.#trapped
    const insidePa = line === null ? this.vessel.absolutePa : (line.pa * line.gasK) / line.k
    const felt = bench.pressure.kind === 'gauge' ? insidePa - atmospherePa : insidePa
    const touched = bench.thermometer?.touches === 'gas' ? this.vessel.gasK : this.vessel.wallK
    const { pressure, temperature, barometer: baro } = this.#instruments
    const sample: Sample = {
      timeS: this.nowS,
      pressurePa: pressure(felt, this.nowS),
      temperatureK: temperature?.(touched, this.nowS) ?? null,
      barometricPa: baro?.(atmospherePa, this.nowS) ?? null,
    }
    const said = this.fault === null ? sample : this.fault(sample, this)
    if (said !== null) this.#samples.push(said)
  }
}

function stampNs(ms: number): string {
  return String(epochNs + BigInt(ms) * 1_000_000n)
}
