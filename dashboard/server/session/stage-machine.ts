import type { HoldSpec } from '#analysis/model/system.ts'
import type { Stage } from '#dashboard/api.ts'

export type HoldStage = Exclude<Stage, 'idle'> | 'end'

/** Allowed next stages: the next in order; vent and end at any time. */
const next: Readonly<Record<Exclude<HoldStage, 'end'>, readonly HoldStage[]>> = {
  'pump-up': ['settle', 'vent', 'end'],
  settle: ['hold', 'vent', 'end'],
  hold: ['vent', 'end'],
  vent: ['end'],
}

/** Vented: at most this fraction of the test pressure remains, for this long. */
const ventedFraction = 0.1
const ventedForS = 10
/** At pressure: each measured section has at least this fraction of the test pressure. */
const atPressureFraction = 0.5
/** Length of the countdown before an automatic start of the hold, [s]. */
const countdownS = 10

/** A request that the order of stages does not allow. */
export class StageOrderError extends Error {
  override name = 'StageOrderError'
}

/**
 * The stages of one hold in bench time: pump-up → settle → hold → vent → end.
 *
 * The operator ends pumping and starts the vent. The hold starts automatically only when the planned settle
 * time is over, the pressure is even, and the countdown on the page has ended. The vent ends when the pressure has
 * stayed low. Nothing here opens a valve.
 */
export class StageMachine {
  readonly #spec: HoldSpec
  #stage: HoldStage = 'pump-up'
  #startedS: number
  #lowSinceS: number | null = null
  /** Bench time at which the countdown to the hold began, [s]; null while none runs. */
  #countsFromS: number | null = null
  /** Start of each stage, [s]. */
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

  /** Withdraws the running stage: the one before it continues. Pump-up has none before it. */
  takeBack(): void {
    delete this.begun[this.#stage]
    const [stage, startedS] = Object.entries(this.begun).at(-1)! as [HoldStage, number]
    this.#stage = stage
    this.#startedS = startedS
    this.#lowSinceS = null
    this.#countsFromS = null
  }

  /** Whether every measured section is near enough to the test pressure. */
  isAtPressure(gaugePa: readonly number[]): boolean {
    const { pressurePa } = this.#spec
    return gaugePa.every((pressure) => pressure / pressurePa >= atPressureFraction)
  }

  /**
   * Starts, keeps or stops the countdown to the hold.
   *
   * @param ready the section is at pressure and the pressure is even
   */
  settling(nowS: number, ready: boolean): void {
    if (this.#stage !== 'settle' || !ready) this.#countsFromS = null
    else if (nowS - this.#startedS >= this.#spec.settleS - countdownS) this.#countsFromS ??= nowS
  }

  /** Seconds until the automatic start of the hold; null while no countdown runs. */
  startsInS(nowS: number): number | null {
    if (this.#countsFromS === null) return null
    const startS = Math.max(this.#countsFromS + countdownS, this.#startedS + this.#spec.settleS)
    return Math.max(0, startS - nowS)
  }

  /**
   * The stage that starts automatically now, or null.
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
