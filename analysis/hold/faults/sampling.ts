import type { Recording } from '#analysis/model/samples.ts'
import { firstIndexAt } from '../block-averages.ts'
import { allFaults, type Faults, isVoid, noFaults } from './fault.ts'
import type { GaugeView } from './gauge-view.ts'

/** Fewest readings of a hold, longest gap, all gaps together, and gap at either end, as shares of the hold. Own figures. */
const fewestSamples = 20
const longestGap = 0.2
const allGaps = 0.35
const endGap = 0.1

/** Too few readings, or too large a part of the hold without any. */
export function samplingFaults(view: GaugeView): Faults {
  const { signal, section, holdS, untilS } = view
  const { timeS, gaugePa, channel } = signal
  const from = firstIndexAt(timeS, holdS)
  let to = from
  let readings = 0
  let firstS = holdS
  let lastS = holdS
  for (; to < timeS.length && timeS[to] <= untilS; to++) {
    if (!Number.isFinite(gaugePa[to])) continue
    if (readings++ === 0) firstS = timeS[to]
    lastS = timeS[to]
  }
  const name = `the gauge of ${section.id} (${channel.id})`
  if (readings < fewestSamples)
    return isVoid(
      'too-few-samples',
      `The hold has ${readings} readings of ${name}; it takes at least ${fewestSamples}: hold longer, or let the logger read more often.`,
    )
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
  const silent = (seconds: number, where: string): Faults =>
    isVoid(
      'samples-missing',
      `${name[0].toUpperCase()}${name.slice(1)} gave no reading for ${Math.round(seconds)} s ${where} of ${Math.round(lengthS)} s: the logger was silent, or its clock was set forward.`,
    )
  if (longest > longestGap * lengthS) return silent(longest, 'on end in a hold')
  if (together + first + last > allGaps * lengthS) return silent(together + first + last, 'in all in a hold')
  if (first > endGap * lengthS) return silent(first, 'at the start of a hold')
  if (last > endGap * lengthS) return silent(last, 'at the end of a hold')
  return noFaults
}

/** Median step between one reading and the next, of some thousands of them, [s]. */
function usualSpacing({ timeS, gaugePa }: GaugeView['signal'], from: number, to: number): number {
  const stride = Math.max(1, Math.floor((to - from) / 5000))
  const steps: number[] = []
  for (let i = from; i < to; i += stride) {
    if (!Number.isFinite(gaugePa[i])) continue
    let next = i + 1
    while (next < to && !Number.isFinite(gaugePa[next])) next++
    if (next < to) steps.push(timeS[next] - timeS[i])
  }
  return steps.length > 0 ? Float64Array.from(steps).sort()[steps.length >> 1] : 0
}

/** The clock that stamps the samples jumped between pump-up and vent: the time that passed is not known. */
export function clockFaults(recording: Recording, fromS: number, untilS: number): Faults {
  const marked = recording.marks.find(
    ({ kind, timeS }) => kind === 'clock' && timeS >= fromS && timeS <= untilS,
  )
  const jumped = recording.clockJumps?.find(({ timeS }) => timeS >= fromS && timeS <= untilS)
  const parts: Faults[] = []
  if (marked !== undefined || jumped !== undefined) {
    const seconds = jumped === undefined ? '' : ` by ${Math.abs(jumped.seconds).toFixed(1)} s`
    parts.push(
      isVoid(
        'clock-jumped',
        `The clock that stamps the readings was set${seconds} during this hold, so how long it lasted is not known: hold again.`,
      ),
    )
  }
  return allFaults(parts)
}
