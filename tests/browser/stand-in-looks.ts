import type { LeakLook } from '#dashboard/api.ts'
import { shortEstimate } from '#dashboard/server/session/running-hold.ts'
import { allowanceDropPa } from './stand-in-curve.ts'

/** As the server: a look every three seconds from the twentieth on, older ones thinned to every second. */
const firstAtS = 20
const everyS = 3
const atMost = 240

/** The looks at a hold that goes on; a list of its own whenever there is a new one, as the server has it. */
export class StandInLooks {
  readonly #look: (atS: number, dropPa: number) => LeakLook
  readonly #dropPa: number
  #looks: readonly LeakLook[] = []
  #nextS = firstAtS
  #decidesInS: number | null = null

  constructor(look: (atS: number, dropPa: number) => LeakLook, dropPa: number) {
    this.#look = look
    this.#dropPa = dropPa
  }

  /** Those taken until `heldS` of the hold; from the first on again where the hold was set back. */
  until(heldS: number): readonly LeakLook[] {
    if (heldS < this.#nextS - everyS) {
      this.#looks = []
      this.#nextS = firstAtS
    }
    if (heldS < this.#nextS) return this.#looks
    let looks = [...this.#looks]
    for (; this.#nextS <= heldS; this.#nextS += everyS) {
      looks.push(short(this.#look(this.#nextS, this.#dropPa)))
      if (looks.length > atMost) looks = looks.filter((_, index) => index % 2 === 1)
    }
    this.#looks = looks
    this.#decidesInS = this.#decideFrom(looks[looks.length - 1].atS)
    return looks
  }

  /** As the last look told it. */
  get decidesInS(): number | null {
    return this.#decidesInS
  }

  #decideFrom(atS: number): number {
    let at = atS
    while (at < Math.max(900, atS)) {
      const { low, high } = this.#look(at, this.#dropPa).dropPa
      if (high <= allowanceDropPa || low >= allowanceDropPa) break
      at += 5
    }
    return at - atS
  }
}

function short({ atS, dropPa, sections }: LeakLook): LeakLook {
  return {
    atS,
    dropPa: shortEstimate(dropPa),
    ...(sections && {
      sections: Object.fromEntries(
        Object.entries(sections).map(([section, each]) => [section, shortEstimate(each)]),
      ),
    }),
  }
}
