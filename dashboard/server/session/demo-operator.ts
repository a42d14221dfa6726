import type { LiveState, NewMark, Stage } from '#dashboard/api.ts'
import { RequestError } from '#dashboard/server/http/request-error.ts'
import type { DemoStep } from '#ingest/sources/demo-session.ts'
import type { BenchSession } from './bench-session.ts'

/** Actions and queries of a person at the simulated bench. */
export interface DemoHands {
  /** At pressure, with the first heat of pumping dissipated. */
  readonly atPressure: boolean
  look(fittingId: string): 'dry' | 'bubbles'
}

const pollMs = 50
/** Bench time between two actions of the operator, [s]. */
const readsZeroS = 25
const betweenLooksS = 8
const worksForS = 40

const stateSheet = [
  'every opening plugged or capped',
  'relief valve set',
  'eye protection on',
  'no ignition source near',
]
const yours = 'The bench is yours: start a hold, look at fittings, retighten one, try another section.'

class Stopped extends Error {}

/** Runs the demo bench automatically, step by step, with the same requests that a person's page sends. */
export class DemoOperator {
  readonly #session: BenchSession
  readonly #hands: DemoHands
  readonly #steps: readonly DemoStep[]
  readonly #lastRecord = new Map<string, string>()
  #next = 0
  #who: 'automatic' | 'you' = 'automatic'
  #says = 'Waiting for the first readings.'
  #run: Promise<void> | null = null
  #stop = false

  constructor(session: BenchSession, hands: DemoHands, steps: readonly DemoStep[]) {
    this.#session = session
    this.#hands = hands
    this.#steps = steps
  }

  show(): NonNullable<LiveState['demoOperator']> {
    return { who: this.#who, says: this.#says }
  }

  /** Begins, or continues where the visitor took over. */
  start(): void {
    if (this.#run) return
    this.#who = 'automatic'
    this.#stop = false
    this.#run = this.#work()
      .catch((error) => {
        if (!(error instanceof Stopped || error instanceof RequestError)) throw error
      })
      .finally(() => {
        this.#run = null
        this.#who = 'you'
        this.#says = yours
      })
  }

  /** Leaves the bench to the visitor in its present state. */
  async handOver(): Promise<void> {
    this.#stop = true
    await this.#run
  }

  async #work(): Promise<void> {
    await this.#until(() => this.#session.nowS !== null && this.#stage() === 'idle')
    if (this.#next >= this.#steps.length) this.#next = 0
    for (let step = this.#steps[this.#next]; step; step = this.#steps[++this.#next]) {
      this.#says = step.says
      if (step.kind === 'hold') await this.#hold(step)
      else await this.#repair(step)
    }
  }

  async #hold({ hold, looks, says }: DemoStep & { kind: 'hold' }): Promise<void> {
    const before = this.#session.state().last?.record
    await this.#pass(readsZeroS)
    const retests = this.#lastRecord.get(hold) ?? null
    this.#session.startHold({ hold, operator: 'demo', witness: null, stateSheet, retests })
    await this.#until(() => this.#hands.atPressure)
    this.#session.enterStage('settle')
    this.#says = `${says} Settling: the hold starts automatically.`
    await this.#until(() => this.#stage() === 'hold')
    this.#says = `${says} Holding.`
    await this.#until(() => {
      const { hold: running, nowS } = this.#session.state()
      return running !== null && nowS !== null && nowS - running.stageStartedS >= (running.stageLengthS ?? 0)
    })
    if (looks.length > 0) this.#says = `${says} Still under pressure: inspecting with soap water.`
    for (const id of looks) {
      this.#session.mark({ kind: 'look', id, fields: { finding: this.#hands.look(id) } })
      await this.#pass(betweenLooksS)
    }
    this.#session.enterStage('vent')
    this.#says = 'Venting: the gauge must follow, or the hold proves nothing.'
    await this.#until(() => {
      const { hold: running, last, sealing } = this.#session.state()
      return running === null && !sealing && last !== null && last.record !== before
    })
    const { record, result } = this.#session.state().last!
    this.#lastRecord.set(hold, record)
    this.#says = `Signed and locked as ${record}: ${result.verdict}.`
    await this.#pass(worksForS / 2)
  }

  async #repair({ fitting, action, torqueNm }: DemoStep & { kind: 'work' }): Promise<void> {
    await this.#pass(worksForS)
    const fields: NewMark['fields'] = {
      action,
      by: 'demo',
      ...(torqueNm !== null && { torque_Nm: torqueNm }),
    }
    this.#session.mark({ kind: 'work', id: fitting, fields })
    await this.#pass(worksForS / 2)
  }

  #stage(): Stage {
    return this.#session.state().hold?.stage ?? 'idle'
  }

  async #pass(seconds: number): Promise<void> {
    const fromS = this.#session.nowS ?? 0
    await this.#until(() => (this.#session.nowS ?? 0) - fromS >= seconds)
  }

  async #until(done: () => boolean): Promise<void> {
    while (!done()) {
      await new Promise((resolve) => setTimeout(resolve, pollMs))
      if (this.#stop) throw new Stopped()
    }
  }
}
