import type { SessionContext } from './hold-sealer.ts'
import type { RunningHoldState } from './running-hold-state.ts'
import { settled } from './settled.ts'

/** Bench time between two looks, and before the first, [s]. */
const lookEveryS = 3
const firstLookAtS = 20
/** Looks come no closer than this in our own time, [ms]: the demo's time runs fast. */
const lookEveryMs = 700
/** Bench time between two judgements of a settling section, [s]. */
const settlingEveryS = 2

/** Watches the running hold: how it settles, whether its pressure is lost, what the analysis makes of it so far. */
export class RunningHoldWatch {
  readonly #context: SessionContext
  #looking = false
  #lookedAtS = Number.NEGATIVE_INFINITY
  #lookedAtMs = Number.NEGATIVE_INFINITY
  #settledAtS = Number.NEGATIVE_INFINITY

  constructor(context: SessionContext) {
    this.#context = context
  }

  /** Another hold begins. */
  restart(): void {
    this.#lookedAtS = Number.NEGATIVE_INFINITY
    this.#settledAtS = Number.NEGATIVE_INFINITY
  }

  /** A sample arrived. */
  update(hold: RunningHoldState, timeS: number): void {
    const { machine } = hold
    const standing = this.#context.channels().standing(hold.spec.sections)
    if (machine.stage === 'pump-up')
      hold.atPressure = machine.isAtPressure(standing.map(({ gaugePa }) => gaugePa))
    if (machine.stage === 'settle') this.#judgeSettling(hold, timeS)
    if ((machine.stage !== 'settle' && machine.stage !== 'hold') || hold.lost) return
    const lost = hold.loss.update(standing)
    if (!lost) return
    hold.losePressure(lost)
    this.#context.changed()
  }

  /** What comes is compared with where the pressure stands now. */
  anchor(hold: RunningHoldState): void {
    hold.loss.anchor(this.#context.channels().standing(hold.spec.sections), hold.fallPaPerS)
  }

  /** Has the analysis look at the hold so far, now and then. @param goesOn whether this hold still runs */
  look(hold: RunningHoldState, nowS: number, goesOn: () => boolean): void {
    const nowMs = performance.now()
    if (this.#looking || hold.lost || nowS - hold.machine.startedS < firstLookAtS) return
    if (nowS - this.#lookedAtS < lookEveryS || nowMs - this.#lookedAtMs < lookEveryMs) return
    this.#looking = true
    this.#lookedAtS = nowS
    this.#lookedAtMs = nowMs
    const standing = this.#context.channels().standing(hold.spec.sections)
    this.#context.thread
      .look(hold.spec.id, this.#context.marks.since(hold.sinceS))
      .then((analysis) => {
        if (analysis && goesOn() && hold.machine.stage === 'hold') {
          hold.update(analysis)
          // Where the pressure stood when this look was taken: a fall since then is no part of its interval.
          hold.loss.anchor(standing, hold.fallPaPerS)
        }
        this.#context.changed()
      })
      .catch((error: Error) => {
        if (goesOn()) this.#context.log(`the look at the running hold failed: ${error.message}`)
      })
      .finally(() => {
        this.#looking = false
      })
  }

  #judgeSettling(hold: RunningHoldState, nowS: number): void {
    if (Math.abs(nowS - this.#settledAtS) < settlingEveryS) return
    this.#settledAtS = nowS
    const { machine, spec } = hold
    const channels = this.#context.channels()
    const wasReady = hold.settled?.ready ?? false
    const each = spec.sections.flatMap((section) => {
      const gauge = channels.gaugeSince(section, Math.max(machine.startedS, nowS - 60))
      return gauge ? [settled(gauge, hold.allowedPaPerS, { settleS: spec.settleS, wasReady })] : []
    })
    hold.settled = each.find(({ ready }) => !ready) ?? each[0] ?? null
    const isAtPressure = machine.isAtPressure(channels.standing(spec.sections).map(({ gaugePa }) => gaugePa))
    machine.settling(nowS, hold.settled?.ready === true && isAtPressure && !hold.lost && hold.broken === null)
    this.anchor(hold)
    this.#context.changed()
  }
}
