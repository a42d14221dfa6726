/**
 * Bench time: the time of the newest sample, extrapolated by the monotonic clock until the next one.
 *
 * Marks use this time, so that they sort correctly among the samples even when the logger's clock differs
 * from ours. When the bench runs faster than real time, an extrapolated clock would overtake later samples.
 */
export class BenchClock {
  readonly #runsOn: boolean
  #seenAtNs = 0n
  /** Time of the newest sample; null before the first. */
  newestNs: bigint | null = null

  /** @param runsOn false when samples do not come in real time: then only samples advance the clock */
  constructor(runsOn: boolean) {
    this.#runsOn = runsOn
  }

  update(sampleNs: bigint): void {
    if (this.newestNs !== null && sampleNs < this.newestNs) return
    this.newestNs = sampleNs
    this.#seenAtNs = process.hrtime.bigint()
  }

  /** Never earlier than the newest sample; null before the first. */
  nowNs(): bigint | null {
    if (this.newestNs === null) return null
    return this.#runsOn ? this.newestNs + (process.hrtime.bigint() - this.#seenAtNs) : this.newestNs
  }

  /** Forgets the time base: after a clock jump the next sample sets it again. */
  restart(): void {
    this.newestNs = null
  }
}

/** Maximum lead of a port's points over the monotonic clock before it counts as a jump, [s]. */
const aheadS = 2
/** Maximum step back: loggers send the lines of one instant in any order, [s]. */
const backS = 1
/** How long a jump is shown, [s]. */
const shownForS = 60

/** Window over which the rates of the two clocks are compared, in our time, [s]. */
const stretchS = 20
/** Consecutive windows that must agree: a burst of queued points spoils one or two. */
const stretchesOnEnd = 6
/** Maximum relative gain of a logger's clock: crystals keep to 0.0001, ceramic resonators to 0.005. */
const mostFast = 0.02
/** Interval between repeated marks of a fast clock, so that every hold contains one, [s]. */
const againAfterS = 30

/** Clock fault of a logger, as its mark states it: a jump by `seconds`, or a gain of `fast_percent`. */
export type ClockFields = { readonly port: string; readonly text: string } & (
  | { readonly seconds: number }
  | { readonly fast_percent: number }
)

const secondsBetween = (fromNs: bigint, toNs: bigint): number => Number(toNs - fromNs) / 1e9

interface Instant {
  readonly pointNs: bigint
  readonly monotonicNs: bigint
}

/**
 * Checks the clock of one logger against the monotonic clock.
 *
 * A jump: more time passed on its points than here, or they went back. Late delivery is no jump: queued points
 * arrive together, each one step after the last. A fast clock gains over minutes: a hold on it
 * is shorter than its timestamps show, and a leak looks smaller. A slow clock makes a leak look larger and cannot
 * be distinguished from a line that falls behind.
 */
export class LoggerClock {
  readonly #port: string
  #last: Instant | null = null
  #jump: { readonly seconds: number; readonly monotonicNs: bigint } | null = null
  #begin: Instant | null = null
  /** Relative gain in each of the last windows. */
  #fast: number[] = []
  #fastMarkedNs: bigint | null = null

  constructor(port: string) {
    this.#port = port
  }

  /** Clock faults found at this point, each to be marked in the recording. */
  update(pointNs: bigint, monotonicNs: bigint): ClockFields[] {
    const wrong: ClockFields[] = []
    const [port, now, last] = [this.#port, { pointNs, monotonicNs }, this.#last]
    this.#last = now
    const stepS = last === null ? 0 : secondsBetween(last.pointNs, pointNs)
    const seconds = last === null ? 0 : stepS - secondsBetween(last.monotonicNs, monotonicNs)
    if (stepS <= -backS || seconds > aheadS) {
      this.#jump = { seconds, monotonicNs }
      this.#restartRate()
      wrong.push({ port, seconds, text: jumpMessage(port, seconds) })
    }
    this.#begin ??= now
    const elapsedS = secondsBetween(this.#begin.monotonicNs, monotonicNs)
    if (elapsedS >= stretchS) {
      this.#fast = [...this.#fast, secondsBetween(this.#begin.pointNs, pointNs) / elapsedS - 1].slice(
        -stretchesOnEnd,
      )
      this.#begin = now
    }
    const percent = this.#fastPercent
    if (percent !== null && secondsBetween(this.#fastMarkedNs ?? 0n, monotonicNs) >= againAfterS) {
      this.#fastMarkedNs = monotonicNs
      wrong.push({ port, fast_percent: percent, text: fastMessage(port, percent) })
    }
    return wrong
  }

  /** Current report on the last jump and on the rate. */
  messages(monotonicNs: bigint): string[] {
    const jump = this.#jump
    const percent = this.#fastPercent
    return [
      ...(jump && secondsBetween(jump.monotonicNs, monotonicNs) <= shownForS
        ? [jumpMessage(this.#port, jump.seconds)]
        : []),
      ...(percent === null ? [] : [fastMessage(this.#port, percent)]),
    ]
  }

  /** The connection was opened again: a time step here is a gap, not a jump of the logger's clock. */
  reopened(): void {
    this.#last = null
    this.#restartRate()
  }

  #restartRate(): void {
    this.#begin = null
    this.#fast = []
  }

  /** Gain of the clock, [%]; null when it is not fast. */
  get #fastPercent(): number | null {
    if (this.#fast.length < stretchesOnEnd || this.#fast.some((fast) => fast <= mostFast)) return null
    // The minimum: a burst makes the others larger.
    return 100 * Math.min(...this.#fast)
  }
}

export function jumpMessage(port: string, seconds: number): string {
  const way = seconds > 0 ? 'forward' : 'back'
  return `The clock of ${port} jumped ${way} by ${Math.abs(seconds).toFixed(1)} s: a hold that was running proves nothing.`
}

function fastMessage(port: string, percent: number): string {
  return `The clock of ${port} runs ${percent.toFixed(0)} % fast: a hold is shorter than its timestamps show and proves nothing. Correct the logger’s clock frequency.`
}
