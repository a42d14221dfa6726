import type { LostAnswer, PressureLost } from '#dashboard/api.ts'

/** What is known of one section when its pressure is compared. */
export interface SectionNow {
  readonly section: string
  readonly timeS: number
  readonly gaugePa: number
  readonly absolutePa: number
  /** Temperature of its gas, [K]; null without a thermometer. */
  readonly temperatureK: number | null
}

interface Anchor extends SectionNow {
  /** Fastest fall that the interval of the leak allowed then, [Pa/s]. */
  readonly fallPaPerS: number
}

/** The interval is of a leak that stays as it is: a fall of so many times its upper bound is something else. */
const leakTimes = 3
/** The gas may warm and cool by so many times what its thermometer shows. */
const warmthTimes = 2
/** What noise, touch and draughts do, as a part of the absolute pressure, and at most of the gauge pressure. */
const absolutePart = 0.01
const gaugePart = 0.25
/** A fall of this part of the gauge pressure needs no second reading to be believed. */
const clearPart = 0.2
/** Anchors are kept so long, [s]: a cock that is opened slowly shows against an older one. */
const keptForS = 60

/** Watches a running hold for a fall that no leak of the interval explains: vented without a mark, or a joint let go. */
export class PressureLoss {
  readonly #anchors = new Map<string, Anchor[]>()
  /** A fall that the next reading has to confirm. */
  #suspect: string | null = null

  /** From now on a section is compared with where it stands now. @param fallPaPerS upper bound of its fall, [Pa/s] */
  anchor(now: readonly SectionNow[], fallPaPerS: number): void {
    for (const each of now) {
      const kept = (this.#anchors.get(each.section) ?? []).filter(
        ({ timeS }) => each.timeS - timeS < keptForS,
      )
      this.#anchors.set(each.section, [...kept, { ...each, fallPaPerS }])
    }
  }

  /** The section that lost its pressure; null while every change can be a leak, the weather or warmth. */
  update(now: readonly SectionNow[]): PressureLost | null {
    const suspectBefore = this.#suspect
    this.#suspect = null
    for (const each of now) {
      const from = this.#anchors.get(each.section)?.find((anchor) => isUnexplained(anchor, each))
      if (!from) continue
      const fallPa = Math.abs(from.gaugePa) - Math.abs(each.gaugePa)
      if (fallPa > clearPart * Math.abs(from.gaugePa) || suspectBefore === each.section)
        return { section: each.section, atS: each.timeS, fromPa: from.gaugePa, toPa: each.gaugePa }
      this.#suspect = each.section
    }
    return null
  }
}

function isUnexplained(from: Anchor, now: SectionNow): boolean {
  // Under suction a loss is a rise towards the atmosphere.
  const fallPa = Math.abs(from.gaugePa) - Math.abs(now.gaugePa)
  const leakPa = leakTimes * from.fallPaPerS * (now.timeS - from.timeS)
  const warmthPa =
    from.temperatureK === null || now.temperatureK === null
      ? 0
      : (warmthTimes * from.absolutePa * Math.abs(now.temperatureK - from.temperatureK)) / from.temperatureK
  const floorPa = Math.min(absolutePart * from.absolutePa, gaugePart * Math.abs(from.gaugePa))
  return fallPa > leakPa + warmthPa + floorPa
}

/** The operator's answer as it stands in the recording. */
export const lostWords: Readonly<Record<LostAnswer, string>> = {
  vented: 'vented without a mark, the operator says',
  'let-go': 'a joint let go, the operator says',
  unknown: 'the operator does not know why',
  'still-holding': 'it still holds pressure, the operator says, and the hold goes on',
}
