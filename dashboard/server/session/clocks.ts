/**
 * The time of the bench: that of the newest sample, carried on by the monotonic clock until the next one.
 *
 * Marks are written in this time, so that they stand right among the samples even where the logger's clock differs
 * from ours. Where the bench runs faster than real time a carried-on clock would run ahead of samples still to come.
 */
export class BenchClock {
  readonly #runsOn: boolean
  #seenAtNs = 0n
  /** Time of the newest sample; null before the first. */
  newestNs: bigint | null = null

  /** @param runsOn false where samples do not come in real time: then only they move the clock */
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

  /** Forgets the time base: after a clock jump the next sample sets it anew. */
  restart(): void {
    this.newestNs = null
  }
}

/** Points of one port may run ahead of the monotonic clock by so much before it is a jump, [s]. */
const aheadS = 2
/** And may go back by so much: loggers send the lines of one instant in any order, [s]. */
const backS = 1
/** How long a jump is told, [s]. */
const toldForS = 60

/** Length of one stretch over which the rates of the two clocks are compared, of our time, [s]. */
const stretchS = 20
/** So many stretches on end must show it: points that waited and come in a burst spoil one or two. */
const stretchesOnEnd = 6
/** Part by which a logger's clock may run fast: crystals keep to 0.0001, ceramic resonators to 0.005. */
const mostFast = 0.02
/** While it runs fast it is told again after this, so that a mark of it falls into every hold, [s]. */
const againAfterS = 30

/** What is wrong with a logger's clock, as its mark states it: it jumped by `seconds`, or runs `fast_percent` fast. */
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
 * Watches the clock of one logger against the monotonic clock.
 *
 * It jumped where more time passed on its points than here, or they went back. Late delivery is no jump: points that
 * waited arrive together, each a step after the one before. It runs fast where it gains over minutes: a hold on such a
 * clock is shorter than its seconds say, and a leak looks smaller. One that runs slow makes a leak look larger and cannot
 * be told from a line that falls behind.
 */
export class LoggerClock {
  readonly #port: string
  #last: Instant | null = null
  #jump: { readonly seconds: number; readonly monotonicNs: bigint } | null = null
  #begin: Instant | null = null
  /** By how much it was fast in each of the last stretches. */
  #fast: number[] = []
  #toldFastNs: bigint | null = null

  constructor(port: string) {
    this.#port = port
  }

  /** What is wrong at this point, each to be marked in the recording. */
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
    if (percent !== null && secondsBetween(this.#toldFastNs ?? 0n, monotonicNs) >= againAfterS) {
      this.#toldFastNs = monotonicNs
      wrong.push({ port, fast_percent: percent, text: fastMessage(port, percent) })
    }
    return wrong
  }

  /** What is to be told now of the last jump and of its rate. */
  messages(monotonicNs: bigint): string[] {
    const jump = this.#jump
    const percent = this.#fastPercent
    return [
      ...(jump && secondsBetween(jump.monotonicNs, monotonicNs) <= toldForS
        ? [jumpMessage(this.#port, jump.seconds)]
        : []),
      ...(percent === null ? [] : [fastMessage(this.#port, percent)]),
    ]
  }

  /** The connection was opened anew: whatever time the logger now tells is no jump of its clock but a gap. */
  reopened(): void {
    this.#last = null
    this.#restartRate()
  }

  #restartRate(): void {
    this.#begin = null
    this.#fast = []
  }

  /** How fast it runs, [%]; null while it does not. */
  get #fastPercent(): number | null {
    if (this.#fast.length < stretchesOnEnd || this.#fast.some((fast) => fast <= mostFast)) return null
    // The least of them: a burst makes the others larger.
    return 100 * Math.min(...this.#fast)
  }
}

export function jumpMessage(port: string, seconds: number): string {
  const way = seconds > 0 ? 'forward' : 'back'
  return `The clock of ${port} jumped ${way} by ${Math.abs(seconds).toFixed(1)} s: a hold that was running proves nothing.`
}

function fastMessage(port: string, percent: number): string {
  return `The clock of ${port} runs ${percent.toFixed(0)} % fast: a hold is shorter than its readings say and proves nothing. Set the logger’s clock frequency right.`
}
