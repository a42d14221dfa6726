import type { Recording } from '#analysis/model/samples.ts'
import { firstIndexAt } from '#analysis/signal/block-averages.ts'
import { lineThrough } from '#analysis/signal/column-spans.ts'
import type { HoldStages } from '#analysis/stages/stages-from-pressure.ts'
import { blocksPass, type Faults, noFaults, voidHold } from './fault.ts'
import { type GaugeView, usualSpacing } from './gauge-view.ts'

/** Fewest readings of a hold, longest gap, all gaps together, and gap at either end, as shares of the hold. Own figures. */
const fewestSamples = 20
const fewestByEye = 10
const longestGap = 0.2
const allGaps = 0.35
const endGap = 0.1

/** Too few readings, or too large a part of the hold without any. */
export function samplingFaults(view: GaugeView, live: boolean): Faults {
  const { signal, section, holdS, untilS, byEye } = view
  const { timeS, gaugePa, channel } = signal
  const from = firstIndexAt(timeS, holdS)
  const least = byEye ? fewestByEye : fewestSamples
  let to = from
  let readings = 0
  let firstS = holdS
  let lastS = holdS
  for (; to < timeS.length && timeS[to] <= untilS; to++) {
    if (!Number.isFinite(gaugePa[to])) continue
    if (readings++ === 0) firstS = timeS[to]
    lastS = timeS[to]
  }
  const gauge = { section: section.id, channel: channel.id }
  if (readings < least)
    // A running hold that is read by eye has more readings to come.
    return (live && byEye ? blocksPass : voidHold)('too-few-samples', { ...gauge, readings, least })
  const lengthS = untilS - holdS
  const usual = usualSpacing(signal, from, to)
  const gap = (step: number): number => (step > Math.max(4 * usual, 1) ? step - usual : 0)
  let longest = 0
  let together = 0
  let beforeS = firstS
  for (let i = from; i < to; i++) {
    if (!Number.isFinite(gaugePa[i])) continue
    const silence = gap(timeS[i] - beforeS)
    longest = Math.max(longest, silence)
    together += silence
    beforeS = timeS[i]
  }
  const first = gap(firstS - holdS)
  const last = gap(untilS - lastS)
  const silent = (seconds: number, where: 'in a row' | 'in total' | 'at the start' | 'at the end'): Faults =>
    voidHold('samples-missing', { ...gauge, seconds, hold_s: lengthS, where })
  if (longest > longestGap * lengthS) return silent(longest, 'in a row')
  if (together + first + last > allGaps * lengthS) return silent(together + first + last, 'in total')
  const jumped = jumpedClock(view, from, to, gap)
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
  { signal, holdS, untilS }: GaugeView,
  from: number,
  to: number,
  gap: (step: number) => number,
): number | null {
  const { timeS, gaugePa } = signal
  const besideS = besideShare * (untilS - holdS)
  let last = -1
  for (let i = from; i < to; i++) {
    if (!Number.isFinite(gaugePa[i])) continue
    const beforeS = last < 0 ? timeS[i] : timeS[last]
    last = i
    const gapS = timeS[i] - beforeS
    if (gap(gapS) < lookedAtGap * (untilS - holdS) || gap(gapS) === 0) continue
    const before = lineThrough(timeS, gaugePa, Math.max(holdS, beforeS - besideS), beforeS, beforeS)
    const after = lineThrough(timeS, gaugePa, timeS[i], Math.min(untilS, timeS[i] + besideS), timeS[i])
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
