import { isTank, type Section } from '#analysis/model/system.ts'
import { unitsOfSystem } from '#analysis/reasons/figures.ts'
import { reason, worded as wordedReasons } from '#analysis/reasons/phrase.ts'
import type { ReasonCode, ValuesOf } from '#analysis/reasons/phrases.ts'
import type { Alarm } from '#dashboard/api.ts'

/** 0.5 psi/min, [Pa/s]: the fastest a tank is pumped up. Source: laboratory procedure to 33 CFR 183.542. */
const tankRampLimitPaPerS = (0.5 * 6894.757293) / 60

/** An alarm ends when the pressure is this part under the limit: no flicker at the limit itself. */
const releaseFraction = 0.98

/** Time over which a ramp is measured, [s]. */
const rampSpanS = 10

/** Watches one section's gauge pressure against its limits. */
export class PressureAlarms {
  readonly #section: Section
  readonly #isTank: boolean
  #over: 'pressure' | 'vacuum' | null = null
  /** How far the section stood from the atmosphere: a vent leads back to it, and may be fast either way. */
  #window: { timeS: number; awayPa: number }[] = []
  #isBelow = false

  constructor(section: Section) {
    this.#section = section
    this.#isTank = isTank(section)
  }

  update(timeS: number, pressurePa: number): void {
    const { maxPressurePa, maxVacuumPa } = this.#section
    const excess = Math.max(
      maxPressurePa === null ? 0 : pressurePa / maxPressurePa,
      maxVacuumPa === null ? 0 : -pressurePa / maxVacuumPa,
    )
    if (excess > 1) this.#over = pressurePa > 0 ? 'pressure' : 'vacuum'
    else if (excess < releaseFraction) this.#over = null
    const last = this.#window.at(-1)
    // Four points a second are enough for a slope, whatever the logger's rate; a clock that went back starts anew.
    if (last && timeS < last.timeS) this.#window = []
    if (this.#isTank && (!last || timeS - last.timeS >= 0.25))
      this.#window.push({ timeS, awayPa: Math.abs(pressurePa) })
    this.#isBelow = pressurePa < 0
    while (this.#window.length > 0 && timeS - this.#window[0].timeS > rampSpanS) this.#window.shift()
  }

  alarms(): Alarm[] {
    const { id, maxPressurePa, maxVacuumPa } = this.#section
    const found: Alarm[] = []
    if (this.#over) {
      const limit_Pa = this.#over === 'pressure' ? maxPressurePa! : maxVacuumPa!
      found.push(alarm('over-pressure', { section: id, of: this.#over, limit_Pa }))
    }
    const slope = this.#slopePaPerS()
    if (slope !== null && slope > tankRampLimitPaPerS) {
      const figures = { per_min_Pa: 60 * slope, most_Pa: 60 * tankRampLimitPaPerS }
      found.push(alarm('ramp-too-fast', { section: id, isBelow: this.#isBelow, ...figures }))
    }
    return found
  }

  /** Least-squares slope away from the atmosphere over the window, [Pa/s]; null until it spans most of its time. */
  #slopePaPerS(): number | null {
    const points = this.#window
    if (points.length < 4 || points.at(-1)!.timeS - points[0].timeS < rampSpanS * 0.7) return null
    const meanTimeS = points.reduce((sum, { timeS }) => sum + timeS, 0) / points.length
    let products = 0
    let squares = 0
    for (const { timeS, awayPa } of points) {
      products += (timeS - meanTimeS) * awayPa
      squares += (timeS - meanTimeS) ** 2
    }
    return products / squares
  }
}

/** An alarm with its SI figures; its message is for those who do not word it themselves. */
export function alarm<C extends ReasonCode & Alarm['code']>(code: C, values: ValuesOf<C>): Alarm {
  const [worded] = wordedReasons([reason(code, values)], unitsOfSystem(null))
  return { code, values: worded.values, message: worded.message }
}
