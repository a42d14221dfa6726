import type { Recording } from '#analysis/model/samples.ts'
import { lineThrough } from '#analysis/signal/column-spans.ts'
import type { HoldStages } from '#analysis/stages/stages-from-pressure.ts'
import { blocksPass, type Faults, noFaults, voidHold } from './fault.ts'
import type { GaugeView } from './gauge-view.ts'

/** Fewest readings of a hold, longest gap, all gaps together, and gap at either end, as shares of the hold. Own figures. */
const fewestSamples = 20
const fewestByEye = 10
const longestGap = 0.2
const allGaps = 0.35
const endGap = 0.1

/** Too few readings, or too large a part of the hold without any. */
export function samplingFaults(view: GaugeView, live: boolean): Faults {
  const { signal, section, heardS, spacingS, holdS, untilS, byEye } = view
  const least = byEye ? fewestByEye : fewestSamples
  const readings = heardS.length
  const gauge = { section: section.id, channel: signal.channel.id }
  if (readings < least)
    // A running hold that is read by eye has more readings to come.
    return (live && byEye ? blocksPass : voidHold)('too-few-samples', { ...gauge, readings, least })
  const lengthS = untilS - holdS
  const gap = (step: number): number => (step > Math.max(4 * spacingS, 1) ? step - spacingS : 0)
  const first = gap(heardS[0] - holdS)
  const last = gap(untilS - heardS[readings - 1])
  let longest = 0
  let together = first + last
  for (let i = 1; i < readings; i++) {
    const silence = gap(heardS[i] - heardS[i - 1])
    longest = Math.max(longest, silence)
    together += silence
  }
  const silent = (seconds: number, where: 'in a row' | 'in total' | 'at the start' | 'at the end'): Faults =>
    voidHold('samples-missing', { ...gauge, seconds, hold_s: lengthS, where })
  if (longest > longestGap * lengthS) return silent(longest, 'in a row')
  if (together > allGaps * lengthS) return silent(together, 'in total')
  const jumped = jumpedClock(view, gap)
  if (jumped !== null)
    return voidHold('clock-jumped', { how: 'forward', section: section.id, seconds: jumped })
  if (first > endGap * lengthS) return silent(first, 'at the start')
  if (last > endGap * lengthS) return silent(last, 'at the end')
  return noFaults
}

/** Least gap that is checked, and the stretch on each side that is fitted, as shares of the hold. Own figures. */
const lookedAtGap = 0.02
const besideShare = 0.2
/** The expected fall in the gap must exceed this many standard errors, and the seen fall must be below this share of it. */
const fallErrors = 6
const keptShare = 0.3

/**
 * Length of a gap without a fall although the pressure fell before and after, [s]; null when there is none. The leak
 * continues while a logger is silent; across a clock set forward nothing happens.
 */
function jumpedClock(
  { signal: { timeS, gaugePa }, heardS, holdS, untilS }: GaugeView,
  gap: (step: number) => number,
): number | null {
  const besideS = besideShare * (untilS - holdS)
  for (let i = 1; i < heardS.length; i++) {
    const [beforeS, atS] = [heardS[i - 1], heardS[i]]
    const gapS = atS - beforeS
    if (gap(gapS) < lookedAtGap * (untilS - holdS)) continue
    const before = lineThrough(timeS, gaugePa, Math.max(holdS, beforeS - besideS), beforeS, beforeS)
    const after = lineThrough(timeS, gaugePa, atS, Math.min(untilS, atS + besideS), atS)
    if (before === null || after === null) continue
    const fallPa = (-gapS * (before.perS + after.perS)) / 2
    const seenPa = before.atEnd - after.atEnd
    const std = Math.hypot(before.std, after.std, (gapS / 2) * before.stdPerS, (gapS / 2) * after.stdPerS)
    const steady = before.perS * after.perS > 0 && Math.abs(before.perS) < 3 * Math.abs(after.perS)
    if (steady && Math.abs(fallPa) > fallErrors * std && seenPa / fallPa < keptShare) return gapS
  }
  return null
}

/** The sample clock jumped between pump-up and vent: the elapsed time is unknown. */
export function clockFaults(recording: Recording, stages: HoldStages): Faults {
  const { pumpUpS, settleS, holdS, ventS, endS } = stages
  const fromS = pumpUpS ?? settleS ?? holdS ?? 0
  const untilS = ventS ?? endS
  const marked = recording.marks.find(
    ({ kind, timeS }) => kind === 'clock' && timeS >= fromS && timeS <= untilS,
  )
  // Backward jumps into the hold or out of it count too.
  const quietS = settleS ?? holdS ?? fromS
  const jumped = recording.clockJumps?.find(({ timeS, seconds }) => {
    const leftS = timeS - seconds
    return (timeS >= fromS && timeS <= untilS) || (leftS >= quietS && leftS <= untilS)
  })
  if (marked === undefined && jumped === undefined) return noFaults
  const percent = jumped === undefined ? marked?.fields.fast_percent : undefined
  if (percent !== undefined) return voidHold('clock-jumped', { how: 'fast', share: Number(percent) / 100 })
  return voidHold('clock-jumped', {
    how: 'set',
    ...(jumped === undefined ? {} : { seconds: Math.abs(jumped.seconds) }),
  })
}

/**
 * Unreadable lines of the recording, at or before the vent. Missing samples show as a gap; a missing mark (an opened valve,
 * work on a joint, a clock that was set) does not show at all. The hold does not pass.
 */
export function recordingDamage({ recording: { damage }, ventS, endS }: GaugeView): Faults {
  if (damage === undefined || damage.afterS >= (ventS ?? endS)) return noFaults
  return blocksPass('recording-damaged', { line: damage.line, lines: damage.lines })
}
