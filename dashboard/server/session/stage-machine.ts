import type { HoldSpec } from '#analysis/model/system.ts'
import type { Stage } from '#dashboard/api.ts'

export type HoldStage = Exclude<Stage, 'idle'> | 'end'

/** Which stages may follow: the next one, venting at any time, and giving up at any time. */
const next: Readonly<Record<Exclude<HoldStage, 'end'>, readonly HoldStage[]>> = {
  'pump-up': ['settle', 'vent', 'end'],
  settle: ['hold', 'vent', 'end'],
  hold: ['vent', 'end'],
  vent: ['end'],
}

/** Vented: what remains is this part of the test pressure or less, for as long. */
const ventedFraction = 0.1
const ventedForS = 10
/** At pressure: each measured section has this part of the test pressure or more. */
const atPressureFraction = 0.5
/** The page counts down so long before a hold starts without a tap, [s]. */
const countdownS = 10

/** A request that the order of stages does not allow. */
export class StageOrderError extends Error {
  override name = 'StageOrderError'
}

/**
 * The stages of one hold in bench time: pump-up → settle → hold → vent → end.
 *
 * The operator says when pumping is done and when to vent. The hold starts without a tap only when the planned settle
 * time is over, the pressure runs evenly, and a countdown on the page has said so. The vent ends when the pressure has
 * stayed low. Nothing here opens a valve.
 */
export class StageMachine {
  readonly #spec: HoldSpec
  #stage: HoldStage = 'pump-up'
  #startedS: number
  #lowSinceS: number | null = null
  /** Bench time at which the countdown to the hold began, [s]; null while none runs. */
  #countsFromS: number | null = null
  /** When each stage began, [s]. */
  readonly begun: Partial<Record<HoldStage, number>>

  constructor(spec: HoldSpec, startedS: number) {
    this.#spec = spec
    this.#startedS = startedS
    this.begun = { 'pump-up': startedS }
  }

  get stage(): HoldStage {
    return this.#stage
  }

  get startedS(): number {
    return this.#startedS
  }

  /** Planned length of the running stage, [s]; null where the operator decides. */
  get lengthS(): number | null {
    if (this.#stage === 'settle') return this.#spec.settleS
    if (this.#stage === 'hold') return this.#spec.holdS
    return null
  }

  /** @throws StageOrderError when `stage` cannot follow the running one */
  enter(stage: HoldStage, atS: number): void {
    const allowed: readonly HoldStage[] = this.#stage === 'end' ? [] : next[this.#stage]
    if (!allowed.includes(stage)) {
      throw new StageOrderError(
        `after ${this.#stage} comes ${allowed.join(' or ') || 'nothing'}, not ${stage}`,
      )
    }
    this.#stage = stage
    this.#startedS = atS
    this.#lowSinceS = null
    this.#countsFromS = null
    this.begun[stage] = atS
  }

  /** The running stage began by mistake: the one before it goes on. Pump-up has none before it. */
  takeBack(): void {
    delete this.begun[this.#stage]
    const [stage, startedS] = Object.entries(this.begun).at(-1)! as [HoldStage, number]
    this.#stage = stage
    this.#startedS = startedS
    this.#lowSinceS = null
    this.#countsFromS = null
  }

  /** Whether every measured section has reached a good part of the test pressure. */
  isAtPressure(gaugePa: readonly number[]): boolean {
    const { pressurePa } = this.#spec
    return gaugePa.every((pressure) => pressure / pressurePa >= atPressureFraction)
  }

  /**
   * Starts, keeps or stops the countdown to the hold.
   *
   * @param ready the pressure is there and runs evenly
   */
  settling(nowS: number, ready: boolean): void {
    if (this.#stage !== 'settle' || !ready) this.#countsFromS = null
    else if (nowS - this.#startedS >= this.#spec.settleS - countdownS) this.#countsFromS ??= nowS
  }

  /** Seconds until the hold starts without a tap; null while no countdown runs. */
  startsInS(nowS: number): number | null {
    if (this.#countsFromS === null) return null
    const startS = Math.max(this.#countsFromS + countdownS, this.#startedS + this.#spec.settleS)
    return Math.max(0, startS - nowS)
  }

  /**
   * The stage that starts without a tap now, or null.
   * @param gaugePa pressures of the hold's sections now, [Pa]; empty when none is measured
   */
  due(nowS: number, gaugePa: readonly number[]): 'hold' | 'end' | null {
    if (this.#stage === 'settle') return this.startsInS(nowS) === 0 ? 'hold' : null
    if (this.#stage !== 'vent' || gaugePa.length === 0) return null
    const vented = gaugePa.every(
      (pressure) => Math.abs(pressure) <= ventedFraction * Math.abs(this.#spec.pressurePa),
    )
    if (!vented) {
      this.#lowSinceS = null
      return null
    }
    this.#lowSinceS ??= nowS
    return nowS - this.#lowSinceS >= ventedForS ? 'end' : null
  }
}
