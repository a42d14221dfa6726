import type { Origin } from '#analysis/model/origin.ts'
import type { Channel } from '#analysis/model/system.ts'
import type { Alarm, PortState } from '#dashboard/api.ts'
import { RequestError } from '#dashboard/server/http/request-error.ts'
import { BenchPort, type PortReceiver, type SessionPort } from './bench-port.ts'

/** Silence of what is no port that is told, [s]: loggers that write over HTTP keep ten seconds' readings at most as they come. */
const silentAfterS = 15

/** Where the session's lines come from: its ports, and what is no port, such as loggers that write over HTTP. */
export class SessionPorts {
  readonly #ports: readonly BenchPort[]
  readonly #others: (() => PortState)[] = []

  constructor(
    ports: readonly SessionPort[],
    speed: number,
    receiver: (origin: Origin | null) => PortReceiver,
  ) {
    this.#ports = ports.map((port) => new BenchPort(port, speed, receiver(port.port.origin ?? null)))
  }

  async open(): Promise<void> {
    for (const port of this.#ports) await port.port.open(port)
  }

  async close(): Promise<void> {
    for (const { port } of this.#ports) await port.close()
  }

  addOther(state: () => PortState): void {
    this.#others.push(state)
  }

  /** The user agrees with what was detected. @throws RequestError when there is no such port */
  confirm(name: string): void {
    const port = this.#ports.find((each) => each.port.name === name)
    if (!port) throw new RequestError(404, `There is no port ${name}.`)
    port.confirm()
  }

  /** @throws RequestError when there is no such port, or it cannot be set so */
  fix(name: string, setting: Parameters<BenchPort['fix']>[0]): void {
    const port = this.#ports.find((each) => each.port.name === name)
    if (!port) throw new RequestError(404, `There is no port ${name}.`)
    port.fix(setting)
  }

  /** Unit that a logger writes beside the number a channel takes; null when it writes none. */
  unitOf({ from }: Channel): string | null {
    for (const port of this.#ports) {
      const tags = port.tags.port
      if (this.#ports.length > 1 && from.tags.port !== tags) continue
      const unit = port.units().get(from.field)
      if (unit !== undefined) return unit
    }
    return null
  }

  list(): PortState[] {
    const others = this.#others.map((state) => state()).filter(({ lines }) => lines > 0)
    return [...this.#ports.map((port) => port.state()), ...others.map(plainPortState)]
  }

  alarms(): Alarm[] {
    const others = this.#others.flatMap((state) => silenceOf(state()))
    return [...this.#ports.flatMap((port) => port.alarms()), ...others]
  }
}

/** What never sent a line is missed by nobody. */
function silenceOf({ name, lines, silentS }: PortState): Alarm[] {
  if (lines === 0 || silentS === null || silentS <= silentAfterS) return []
  const message = `${name} has received nothing for ${Math.round(silentS)} s: check the logger and its network.`
  return [{ code: 'logger-silent', message }]
}

/** Only what the page is told. */
function plainPortState(state: PortState): PortState {
  const { name, open, dialect, confirmed, lines, rejected, missing, silentS, fault } = state
  return { name, open, dialect, confirmed, lines, rejected, missing, silentS, fault }
}
