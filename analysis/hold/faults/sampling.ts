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
  const seen: number[] = []
  for (let i = firstIndexAt(timeS, holdS); i < timeS.length && timeS[i] <= untilS; i++)
    if (Number.isFinite(gaugePa[i])) seen.push(timeS[i])
  const name = `the gauge of ${section.id} (${channel.id})`
  if (seen.length < fewestSamples)
    return isVoid(
      'too-few-samples',
      `The hold has ${seen.length} readings of ${name}; it takes at least ${fewestSamples}: hold longer, or let the logger read more often.`,
    )
  const lengthS = untilS - holdS
  const steps = seen.slice(1).map((time, i) => time - seen[i])
  const usual = Float64Array.from(steps).sort()[steps.length >> 1]
  const gap = (step: number): number => (step > Math.max(4 * usual, 1) ? step - usual : 0)
  const longest = steps.reduce((most, step) => Math.max(most, gap(step)), 0)
  const together = steps.reduce((sum, step) => sum + gap(step), 0)
  const first = gap(seen[0] - holdS)
  const last = gap(untilS - seen[seen.length - 1])
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
