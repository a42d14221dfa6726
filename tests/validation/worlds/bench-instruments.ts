import type { Random } from '#ingest/simulator/random.ts'
import { wander } from './air-around.ts'

export interface InstrumentBuild {
  readonly whiteStd: number
  /** Standard deviation of each of five slow walks, 1 s to 1000 s: noise that rises as 1/f. */
  readonly flickerStd: number
  readonly step: number
  readonly low: number
  readonly high: number
  readonly gain: number
  readonly zero: number
  /** Change of the zero with the temperature of the electronics, [SI/K]. */
  readonly zeroPerK: number
  /** Share of a change of pressure that the element shows late, and over what time. */
  readonly lateShare: number
  readonly lateTauS: number
  /** Low pass of the electronics, [s]; 0 for none. */
  readonly filterTauS: number
}

const flickerTausS = [1, 6, 36, 200, 1200]

/** One sensor with its converter: everything between the true value and the number in the recording. */
export class BenchInstrument {
  private readonly flicker: number[]
  private late: number | null = null
  private filtered: number | null = null
  private electronicsK: number | null = null
  private startK = 0

  constructor(
    private readonly build: InstrumentBuild,
    private readonly random: Random,
  ) {
    this.flicker = flickerTausS.map(() => build.flickerStd * random.normal())
  }

  /** The true value moves on by `dtS`; `drift` is added to the zero. */
  feel(truth: number, ambientK: number, dtS: number): void {
    const { build } = this
    this.late ??= truth
    this.filtered ??= truth
    this.electronicsK ??= ambientK
    if (this.startK === 0) this.startK = ambientK
    this.late += ((truth - this.late) * dtS) / build.lateTauS
    this.electronicsK += ((ambientK - this.electronicsK) * dtS) / 400
    const shown = truth - build.lateShare * (truth - this.late)
    this.filtered =
      build.filterTauS > 0
        ? this.filtered + (shown - this.filtered) * (1 - Math.exp(-dtS / build.filterTauS))
        : shown
    for (const [i, tauS] of flickerTausS.entries())
      this.flicker[i] = wander(this.flicker[i], build.flickerStd, tauS, dtS, this.random)
  }

  read(drift = 0): number {
    const { build } = this
    const slow = this.flicker.reduce((sum, part) => sum + part, 0)
    const warm = build.zeroPerK * ((this.electronicsK ?? 0) - this.startK)
    const exact =
      build.gain * (this.filtered ?? 0) +
      build.zero +
      warm +
      drift +
      slow +
      build.whiteStd * this.random.normal()
    const clipped = Math.min(build.high, Math.max(build.low, exact))
    return build.step > 0 ? build.step * Math.round(clipped / build.step) : clipped
  }
}
