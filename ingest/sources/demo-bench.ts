import type { HoldSpec, System } from '#analysis/model/system.ts'
import { BenchLogger, type ChannelFault } from '#ingest/simulator/bench-logger.ts'
import { BenchWorld } from '#ingest/simulator/bench-world.ts'
import { demoWorld, floatplaneLeaks, isTank } from '#ingest/simulator/demo-world.ts'
import type { Weather } from '#ingest/simulator/weather.ts'
import { arrivalNow } from './arrival-now.ts'
import type { Port, PortListener } from './port.ts'

export type DemoCommand = 'pump-up' | 'settle' | 'hold' | 'vent' | 'end'

export interface DemoBenchOptions {
  readonly system: System
  /** Bench seconds that pass in one second of ours. */
  readonly speed?: number
  readonly seed?: number
  /** Fittings that leak at first, in multiples of the allowance; absent: those of the demo aircraft that the file has. */
  readonly leaking?: Readonly<Record<string, number>>
  /** Samples in a bench second. */
  readonly sampleHz?: number
  /** Bench time of the start, epoch nanoseconds; absent: the wall clock when the port opens. */
  readonly startNs?: bigint
  /** Absent: a quiet morning drawn from the seed. */
  readonly weather?: Weather
  readonly faults?: readonly ChannelFault[]
}

/** How fast the demo's operator pumps: tanks by the published 0.5 psi/min at most, lines in a quarter of a minute. */
const tankRampPaPerS = (0.48 * 6894.757) / 60
const linePumpS = 15
/** How long the regulator stays on, for the heat of pumping to leave, [s]. */
const tankDwellS = 120
const lineDwellS = 30
/** Pressure given on top, for what the gas loses as it cools further. */
const overPump = 1.06
const tickMs = 50

/**
 * A simulated bench that speaks line protocol through the same interface as a serial port. What happens at it follows
 * from commands; the lines carry the bench's own time, which may run faster than ours.
 */
export class DemoBench implements Port {
  readonly name = 'demo bench'
  readonly speed: number
  readonly #system: System
  /** What is really there; for telling stories that no command tells. */
  readonly world: BenchWorld
  readonly #logger: BenchLogger
  readonly #sampleS: number
  #startNs: bigint | null
  #listener: PortListener | null = null
  #timer: ReturnType<typeof setInterval> | null = null
  #lastTickMs = 0
  #owedS = 0
  #samples = 0
  #pumpedAtS: number | null = null

  constructor(options: DemoBenchOptions) {
    const { system, seed = 1 } = options
    this.speed = options.speed ?? 10
    this.#system = system
    this.#sampleS = 1 / (options.sampleHz ?? 2)
    this.#startNs = options.startNs ?? null
    const known = Object.entries(floatplaneLeaks).filter(([id]) =>
      system.fittings.some((fitting) => fitting.id === id),
    )
    const leaking = options.leaking ?? Object.fromEntries(known)
    this.world = new BenchWorld(demoWorld(system, seed, leaking, options.weather))
    this.#logger = new BenchLogger(system, seed, options.faults)
  }

  async open(listener: PortListener): Promise<void> {
    this.#listener = listener
    const arrival = arrivalNow()
    this.#startNs ??= arrival.wallNs
    listener.opened(arrival)
    this.#lastTickMs = performance.now()
    this.#timer = setInterval(() => this.#tick(), tickMs)
  }

  async close(): Promise<void> {
    if (this.#timer !== null) clearInterval(this.#timer)
    this.#timer = null
    const listener = this.#listener
    this.#listener = null
    listener?.closed(arrivalNow())
  }

  /** Bench seconds since the start. */
  get nowS(): number {
    return this.world.nowS
  }

  /** Bench time, epoch nanoseconds: what a mark made now is stamped with. */
  get nowNs(): bigint {
    return (this.#startNs ?? 0n) + BigInt(Math.round(this.world.nowS * 1e9))
  }

  /** Whether the last `pump-up` is done: at pressure, and the first heat gone. */
  get atPressure(): boolean {
    return this.#pumpedAtS !== null && this.world.nowS >= this.#pumpedAtS
  }

  /** What the operator does at the bench; `holdId` is the hold of the system file. */
  command(command: DemoCommand, holdId: string): void {
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
        for (const section of hold.sections) this.world.vent(section, this.#isTank(section) ? 8 : 1.5)
        break
      case 'end':
        for (const section of hold.sections) this.world.closeVent(section)
        this.#pumpedAtS = null
        break
    }
  }

  openValve(id: string): void {
    this.world.setValve(id, true)
  }

  closeValve(id: string): void {
    this.world.setValve(id, false)
  }

  /** Work that repairs a fitting: its leak is gone. */
  tighten(fittingId: string): void {
    const leak = this.world.leak(fittingId)
    if (leak !== null) this.world.setLeak({ ...leak, conductance: 0 })
  }

  /** What a look with soap water finds while the section is under pressure. */
  look(fittingId: string): 'dry' | 'bubbles' {
    const leak = this.world.leak(fittingId)
    return leak !== null && leak.conductance > 0 && this.world.gaugePa(leak.section) > 500 ? 'bubbles' : 'dry'
  }

  /** Lets bench time pass without a clock and sends what the logger says meanwhile. */
  advance(seconds: number): void {
    this.#owedS += seconds
    const lines: string[] = []
    while (this.#owedS >= this.#sampleS - 1e-9) {
      this.#owedS -= this.#sampleS
      // The first sample is that of the start.
      if (this.#samples > 0) this.world.advance(this.#sampleS)
      this.#samples++
      lines.push(...this.#logger.read(this.world, this.nowNs))
    }
    if (lines.length === 0 || this.#listener === null) return
    this.#listener.bytes(new TextEncoder().encode(`${lines.join('\n')}\n`), arrivalNow())
  }

  #tick(): void {
    const nowMs = performance.now()
    // A computer that slept does not make the bench rush through the night.
    const passedS = Math.min((nowMs - this.#lastTickMs) / 1000, 2)
    this.#lastTickMs = nowMs
    this.advance(passedS * this.speed)
  }

  #pumpUp(hold: HoldSpec): void {
    for (const valve of hold.shut) this.world.setValve(valve, false)
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
