/** Points of one port may run ahead of the monotonic clock by so much before it is a jump, [s]. */
const aheadS = 2
/** And may go back by so much: loggers send the lines of one instant in any order, [s]. */
const backS = 1
/** How long a jump is told, [s]. */
const toldForS = 60

/**
 * Finds jumps in the time of one port's points: more time passed on them than on the monotonic clock, or they went
 * back. Late delivery is no jump: points that waited arrive together, each a step after the one before.
 */
export class ClockJumps {
  readonly #speed: number
  #last: { pointNs: bigint; monotonicNs: bigint } | null = null
  #jump: { seconds: number; monotonicNs: bigint } | null = null

  constructor(speed: number) {
    this.#speed = speed
  }

  /** Seconds the clock jumped at this point, or null. */
  update(pointNs: bigint, monotonicNs: bigint): number | null {
    const last = this.#last
    this.#last = { pointNs, monotonicNs }
    if (last === null) return null
    const stepS = Number(pointNs - last.pointNs) / 1e9
    const elapsedS = (Number(monotonicNs - last.monotonicNs) / 1e9) * this.#speed
    if (stepS > -backS && stepS - elapsedS <= aheadS * Math.max(1, this.#speed)) return null
    const seconds = stepS - elapsedS
    this.#jump = { seconds, monotonicNs }
    return seconds
  }

  /** The last jump while it is still to be told, [s]. */
  recent(monotonicNs: bigint): number | null {
    if (this.#jump === null || Number(monotonicNs - this.#jump.monotonicNs) / 1e9 > toldForS) return null
    return this.#jump.seconds
  }

  /** The connection was opened anew: whatever time the logger now tells is no jump of its clock but a gap. */
  reopened(): void {
    this.#last = null
  }
}
