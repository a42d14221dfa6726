import type { System } from '#analysis/model/system.ts'
import { SimulatedBench, type SimulatedBenchOptions } from '#ingest/simulator/simulated-bench.ts'
import { type ChannelFault, channelFaults } from './channel-faults.ts'

/** First instant of the demo recordings, but for those that come after another: 2026-04-11 07:30:00 UTC, [ns]. */
export const sessionStartNs = 1775892600000000000n

interface ScriptedOptions extends SimulatedBenchOptions {
  readonly stageMarks?: boolean
  readonly faults?: readonly ChannelFault[]
  /** Channels connected to the logger; absent: all of the file. */
  readonly connected?: readonly string[]
}

/** A session at the simulated bench as the file that a recorder would write of it: samples and marks. */
export class ScriptedSession {
  readonly bench: SimulatedBench
  readonly #system: System
  readonly #stageMarks: boolean
  readonly #lines = ['# stillhold recording 1']

  constructor({ faults = [], connected, ...options }: ScriptedOptions) {
    this.#system = options.system
    this.#stageMarks = options.stageMarks ?? true
    const disturb = channelFaults(faults, connected)
    this.bench = new SimulatedBench({ sampleHz: 1, startNs: sessionStartNs, disturb, ...options })
  }

  text(): string {
    return `${this.#lines.join('\n')}\n`
  }

  wait(seconds: number): void {
    this.#lines.push(...this.bench.advanceLines(seconds))
  }

  /** Marks the valves that the hold shuts, pumps up and waits until the heat of pumping has left. */
  pumpUp(hold: string): void {
    const shut = this.#system.holds.find(({ id }) => id === hold)?.shut ?? []
    for (const valve of shut) this.#mark(`kind=valve,id=${valve}`, 'open=false')
    this.#stage('pump-up', hold)
    this.bench.command('pump-up', hold)
    while (!this.bench.atPressure) this.wait(1)
  }

  settle(hold: string, seconds: number): void {
    this.#stage('settle', hold)
    this.bench.command('settle', hold)
    this.wait(seconds)
  }

  /** Begins the hold; what happens meanwhile is told by further calls. */
  hold(hold: string): void {
    this.#stage('hold', hold)
    this.bench.command('hold', hold)
  }

  vent(hold: string, seconds = 40): void {
    this.#stage('vent', hold)
    this.bench.command('vent', hold)
    this.wait(seconds)
    this.#stage('end', hold)
    this.bench.command('end', hold)
    this.wait(5)
  }

  /** A hold without incident, with the settle and hold times of the system file. */
  whole(hold: string): void {
    const spec = this.#system.holds.find(({ id }) => id === hold)
    if (spec === undefined) throw new RangeError(`the system file has no hold '${hold}'`)
    this.pumpUp(hold)
    this.settle(hold, spec.settleS)
    this.hold(hold)
    this.wait(spec.holdS)
    this.vent(hold)
  }

  /** Opens a known leak for a time, shuts it, and waits before the vent. */
  check(id: string, seconds: number): void {
    this.#mark(`kind=check,id=${id}`, 'open=true')
    this.bench.check(id, true)
    this.wait(seconds)
    this.#mark(`kind=check,id=${id}`, 'open=false')
    this.bench.check(id, false)
    this.wait(20)
  }

  supplyOff(): void {
    this.#mark('kind=supply', 'name="off"')
  }

  look(fitting: string): void {
    this.#mark(`kind=look,id=${fitting}`, `finding="${this.bench.look(fitting)}"`)
  }

  work(fitting: string, action: 'retighten' | 'reseal', torqueNm: number): void {
    this.#mark(`kind=work,id=${fitting}`, `action="${action}",torque_Nm=${torqueNm},by="demo"`)
    this.bench.tighten(fitting)
  }

  note(text: string): void {
    this.#mark('kind=note', `text="${text}"`)
  }

  #stage(name: string, hold: string): void {
    if (this.#stageMarks) this.#mark(`kind=stage,hold=${hold}`, `name="${name}"`)
  }

  #mark(tags: string, fields: string): void {
    this.#lines.push(`mark,${tags} ${fields} ${this.bench.nowNs}`)
  }
}
