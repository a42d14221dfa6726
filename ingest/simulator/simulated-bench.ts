import type { HoldSpec, System } from '#analysis/model/system.ts'
import { BenchLogger, type Disturbance } from './bench-logger.ts'
import { BenchWorld } from './bench-world.ts'
import { demoWorld, floatplaneLeaks, isTank } from './demo-world.ts'
import type { Weather } from './vessel.ts'

export type BenchCommand = 'pump-up' | 'settle' | 'hold' | 'vent' | 'end'

export interface SimulatedBenchOptions {
  readonly system: System
  readonly seed?: number
  /** Initial leaks by fitting, in multiples of the allowance; absent: those of the demo aircraft that the file has. */
  readonly leaking?: Readonly<Record<string, number>>
  /** Samples per bench second. */
  readonly sampleHz?: number
  /** Bench time of the start, epoch nanoseconds. */
  readonly startNs?: bigint
  /** Absent: a quiet morning drawn from the seed. */
  readonly weather?: Weather
  /** What goes wrong at the instruments; absent: nothing. */
  readonly disturb?: Disturbance
}

/** Pump speed of the operator: tanks at most the published 0.5 psi/min, lines in a quarter of a minute. */
const tankRampPaPerS = (0.48 * 6894.757293168361) / 60
const linePumpS = 15
/** Time for which the regulator stays on, until the heat of pumping has gone, [s]. */
const tankDwellS = 120
const lineDwellS = 30
/** Extra pressure, to compensate for further cooling of the gas. */
const overPump = 1.06
const tankVentTauS = 8
const lineVentTauS = 1.5

/** A bench without a clock: commands control it, and time passes only by `advance`. */
export class SimulatedBench {
  /** The true state; for scenarios that no command covers. */
  readonly world: BenchWorld
  /** The logger sends nothing while this is true. */
  muted = false
  /** Offset of the logger's clock, [s]. */
  clockAheadS = 0
  protected startNs: bigint
  readonly #system: System
  readonly #logger: BenchLogger
  readonly #sampleS: number
  #owedS = 0
  #samples = 0
  #pumpedAtS: number | null = null

  constructor(options: SimulatedBenchOptions) {
    const { system, seed = 1 } = options
    this.startNs = options.startNs ?? 0n
    this.#system = system
    this.#sampleS = 1 / (options.sampleHz ?? 2)
    const known = Object.entries(floatplaneLeaks).filter(([id]) =>
      system.fittings.some((fitting) => fitting.id === id),
    )
    const leaking = options.leaking ?? Object.fromEntries(known)
    this.world = new BenchWorld(demoWorld(system, seed, leaking, options.weather))
    this.#logger = new BenchLogger(system, seed, options.disturb)
  }

  /** Bench seconds since the start. */
  get nowS(): number {
    return this.world.nowS
  }

  /** Bench time, epoch nanoseconds: the timestamp of a mark made now. */
  get nowNs(): bigint {
    return this.startNs + BigInt(Math.round((this.world.nowS + this.clockAheadS) * 1e9))
  }

  /** Whether the last `pump-up` is done: at pressure, and the initial heat gone. */
  get atPressure(): boolean {
    return this.#pumpedAtS !== null && this.world.nowS >= this.#pumpedAtS
  }

  /** Carries out a command of the operator; `holdId` is a hold of the system file. */
  command(command: BenchCommand, holdId: string): void {
    const hold = this.#system.holds.find(({ id }) => id === holdId)
    if (hold === undefined) throw new RangeError(`the system file has no hold '${holdId}'`)
    switch (command) {
      case 'pump-up':
        this.#pumpUp(hold)
        break
      case 'settle':
      case 'hold':
        for (const section of hold.sections) this.world.stopPump(section)
        break
      case 'vent':
        for (const section of hold.sections) {
          this.world.vent(section, this.#isTank(section) ? tankVentTauS : lineVentTauS)
        }
        break
      case 'end':
        for (const section of hold.sections) this.world.closeVent(section)
        this.#pumpedAtS = null
        break
    }
  }

  openValve(id: string): void {
    this.world.setValve(id, { open: true })
  }

  closeValve(id: string): void {
    this.world.setValve(id, { open: false })
  }

  /** Repairs a fitting: removes its leak. */
  tighten(fittingId: string): void {
    const leak = this.world.leak(fittingId)
    if (leak !== null) this.world.setLeak({ ...leak, conductance: 0 })
  }

  /** Opens or shuts the known leak that the system file describes. */
  check(id: string, open: boolean): void {
    const check = this.#system.checks?.find((one) => one.id === id)
    if (check?.kind !== 'known-leak') return
    const { molPerS, atPa, section } = check
    const conductance = open ? molPerS / (atPa * (atPa + 2 * 101_325)) : 0
    this.world.setLeak({ fitting: id, section, conductance })
  }

  /** Result of a soap-water check while the section is under pressure. */
  look(fittingId: string): 'dry' | 'bubbles' {
    const leak = this.world.leak(fittingId)
    return leak !== null && leak.conductance > 0 && this.world.gaugePa(leak.section) > 500 ? 'bubbles' : 'dry'
  }

  /** Advances bench time; returns the logger's lines of that time, without line ends. */
  advanceLines(seconds: number): string[] {
    this.#owedS += seconds
    const lines: string[] = []
    while (this.#owedS >= this.#sampleS - 1e-9) {
      this.#owedS -= this.#sampleS
      // The first sample is at the start.
      if (this.#samples > 0) this.world.advance(this.#sampleS)
      this.#samples++
      const sent = this.#logger.read(this.world, this.nowNs)
      if (!this.muted) lines.push(...sent)
    }
    return lines
  }

  #pumpUp(hold: HoldSpec): void {
    for (const valve of hold.shut) this.world.setValve(valve, { open: false })
    const toPa = hold.pressurePa * overPump
    let longestS = 0
    for (const section of hold.sections) {
      const tank = this.#isTank(section)
      const rampS = tank ? Math.abs(toPa) / tankRampPaPerS : linePumpS
      this.world.pumpUp(section, toPa, rampS)
      longestS = Math.max(longestS, rampS + (tank ? tankDwellS : lineDwellS))
    }
    this.#pumpedAtS = this.world.nowS + longestS
  }

  #isTank(id: string): boolean {
    const section = this.#system.sections.find((candidate) => candidate.id === id)
    return section !== undefined && isTank(section)
  }
}
