import type { PressureSignal } from '#analysis/signal/pressure-signal.ts'
import { pressureTrack } from '#analysis/signal/pressure-track.ts'
import { letOffAt } from './cycles-in-pressure.ts'
import { handsOnPressure } from './hands-on-pressure.ts'
import type { HoldStages } from './stages-from-pressure.ts'

/** Whoever marks the vent late marks it this late at most, [s]. */
const latestMarkS = 30
/** How far before that the usual course of the pressure is taken from, [s]. */
const usualS = 60
/** A fall up to the mark is the vent when it goes on at the mark this fast, or has this much behind it. Own figures. */
const fallingPerS = 0.001
const fallenShare = 0.6
/** The pressure at the mark is judged from so long before it, [s]. */
const atMarkS = 4

/**
 * The last moment at which a section surely stood closed, seconds from the recording's start: a second before the vent's
 * mark, or before the fall itself where the mark came after it.
 */
export function lastUnderPressureS(signal: PressureSignal, stages: HoldStages): number {
  const { ventS, endS, spec } = stages
  if (ventS === null) return endS
  const markedS = ventS - 1
  const holdS = stages.holdS ?? ventS
  const backS = Math.max(holdS + 0.5 * (ventS - holdS), ventS - latestMarkS)
  // Beyond the mark a little, so that a fall which begins at it shows its bend.
  const track = pressureTrack(signal, spec, Math.max(holdS, backS - usualS), Math.min(endS, ventS + 10))
  const { timeS, levelPa } = track
  let last = timeS.length - 1
  while (last > 0 && timeS[last] > ventS) last--
  if (last < 3) return markedS
  const hand = handsOnPressure(track, 0, last, false).find(({ at, kind }) => {
    if (kind !== 'let-off' || timeS[at] < backS) return false
    const fallenPa = levelPa[Math.max(0, at - 3)] - levelPa[last]
    let shortly = last
    while (shortly > at && timeS[last] - timeS[shortly] < atMarkS) shortly--
    const perS = (levelPa[shortly] - levelPa[last]) / Math.max(timeS[last] - timeS[shortly], 1e-9)
    // A step that stays where it fell to is a cock or a valve, and no vent.
    const going = perS > Math.max(fallingPerS * track.statedPa, 0.3 * (fallenPa / (timeS[last] - timeS[at])))
    return fallenPa > fallenShare * track.statedPa || going
  })
  if (hand === undefined) return markedS
  return Math.min(timeS[letOffAt(track, 0, hand.at)] - 1, markedS)
}
