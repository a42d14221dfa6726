import type { Random } from '#ingest/simulator/random.ts'

/** How the hangar behaves over one session. */
export interface AirStory {
  readonly startK: number
  readonly rampKPerS: number
  readonly swingK: number
  readonly swingPeriodS: number
  /** Slow random wandering of the air by draughts, standard deviation, [K]. */
  readonly draughtK: number
  /** Sun on the section from this moment; no sun when the power is 0. */
  readonly sunK: number
  readonly sunFromS: number
  readonly barometricPa: number
  readonly barometricPaPerS: number
  readonly gustPa: number
}

/** Air, building and atmosphere around a section: the air moves fast, what radiates on the section follows over half an hour. */
export class AirAround {
  timeS = 0
  airK: number
  buildingK: number
  sunK = 0
  barometricPa: number
  private draught = 0
  private gust = 0
  private readonly phase: number

  constructor(
    private readonly story: AirStory,
    private readonly random: Random,
  ) {
    this.phase = random.uniform(0, 2 * Math.PI)
    this.airK = story.startK + story.swingK * Math.sin(this.phase)
    this.buildingK = story.startK
    this.barometricPa = story.barometricPa
  }

  step(dtS: number): void {
    const { story } = this
    this.timeS += dtS
    this.draught = wander(this.draught, story.draughtK, 90, dtS, this.random)
    this.gust = wander(this.gust, story.gustPa, 12, dtS, this.random)
    const turn = this.phase + (2 * Math.PI * this.timeS) / story.swingPeriodS
    this.airK = story.startK + story.rampKPerS * this.timeS + story.swingK * Math.sin(turn) + this.draught
    this.buildingK += ((this.airK - this.buildingK) * dtS) / 1800
    if (this.timeS > story.sunFromS) this.sunK += ((story.sunK - this.sunK) * dtS) / 60
    this.barometricPa = story.barometricPa + story.barometricPaPerS * this.timeS + this.gust
  }
}

/** One step of an Ornstein–Uhlenbeck walk of standard deviation `std` and correlation time `tauS`. */
export function wander(now: number, std: number, tauS: number, dtS: number, random: Random): number {
  const kept = Math.exp(-dtS / tauS)
  return kept * now + std * Math.sqrt(1 - kept * kept) * random.normal()
}
