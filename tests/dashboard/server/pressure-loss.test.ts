import { describe, expect, it } from 'vitest'
import { PressureLoss, type SectionNow } from '#dashboard/server/session/pressure-watch.ts'

const atmospherePa = 101_325
const at = (timeS: number, gaugePa: number, temperatureK: number | null = 293): SectionNow => ({
  section: 'line',
  timeS,
  gaugePa,
  absolutePa: gaugePa + atmospherePa,
  temperatureK,
})
/** A hold at 10 psi whose leak may lose 0.1 psi in 300 s at most. */
const fallPaPerS = 690 / 300
const watched = (from: SectionNow, fall = fallPaPerS): PressureLoss => {
  const loss = new PressureLoss()
  loss.anchor([from], fall)
  return loss
}

describe('PressureLoss', () => {
  it('update() calls a vent at the first reading after it: 10 psi to 3 psi within a second', () => {
    expect(watched(at(0, 68_948)).update([at(1, 20_684)])).toEqual({
      section: 'line',
      atS: 1,
      fromPa: 68_948,
      toPa: 20_684,
    })
  })

  it('update() believes a smaller fall when the next reading confirms it: 10 psi to 9.3 psi in 2 s', () => {
    const loss = watched(at(0, 68_948))
    expect(loss.update([at(2, 64_000)])).toBeNull()
    expect(loss.update([at(2.2, 63_900)])?.section).toBe('line')
    const once = watched(at(0, 68_948))
    expect(once.update([at(2, 64_000)])).toBeNull()
    expect(once.update([at(2.2, 68_940)])).toBeNull()
    expect(once.update([at(2.4, 64_000)])).toBeNull()
  })

  it('update() leaves alone a leak of three times the upper bound, and what 3 K of cooling does by the gas law', () => {
    const leak = watched(at(0, 68_948))
    for (let s = 1; s <= 60; s++) expect(leak.update([at(s, 68_948 - 3 * fallPaPerS * s)])).toBeNull()
    const cold = watched(at(0, 68_948))
    const gaugePa = ((68_948 + atmospherePa) * 290) / 293 - atmospherePa
    for (let s = 1; s <= 5; s++) expect(cold.update([at(s, gaugePa, 290)])).toBeNull()
  })

  it('update() calls a rise towards the atmosphere of a section under suction', () => {
    expect(watched(at(0, -5000)).update([at(1, -500)])?.toPa).toBe(-500)
  })

  it('update() says nothing where the upper bound is not known yet and the fall slow: 1 % of the pressure a second', () => {
    const early = watched(at(0, 68_948), 689)
    for (let s = 1; s <= 20; s++) expect(early.update([at(s, 68_948 - 689 * s)])).toBeNull()
  })
})
