import type { Verdict } from '#analysis/model/hold-result.ts'
import type { LevelResult } from './level-result.ts'
import { type LevelFacts, soundnessReasons } from './level-soundness.ts'
import { publishedReasons, type WeighedReason, worstVerdict } from './worst-verdict.ts'

/**
 * Whether the table may go to the gauge maker. Pass: zero stands at unusable fuel in level attitude, the sum closes,
 * both directions were taken, every step has a reading and no two steps may be taken for each other.
 *
 * Source: 14 CFR 23.1337(b)(1) (2014): the indicator reads zero in level flight when the fuel left is the unusable fuel
 */
export function judgeLevel(facts: LevelFacts): Pick<LevelResult, 'verdict' | 'reasons'> {
  const reasons: WeighedReason[] = [
    ...dataReasons(facts),
    ...zeroReasons(facts),
    ...unusableReasons(facts),
    ...sumReasons(facts),
    ...capacityReasons(facts),
    ...curveReasons(facts),
    ...soundnessReasons(facts),
  ]
  if (!reasons.some(({ weight }) => weight !== null)) {
    reasons.push(told('table-stands', 'Zero, sum, capacity and both directions agree: the table stands.'))
  }
  return { verdict: worstVerdict(reasons), reasons: publishedReasons(reasons) }
}

const weigh =
  (weight: Verdict | null) =>
  (code: string, message: string): WeighedReason => ({ code, message, weight })
const voids = weigh('void')
const fails = weigh('fail')
const leavesOpen = weigh('undecided')
const told = weigh(null)

function dataReasons({ points, rejected, runs, steps_level, channel }: LevelFacts): WeighedReason[] {
  const reasons: WeighedReason[] = []
  for (const fault of new Set(runs.flatMap((run) => run.faults)))
    reasons.push(leavesOpen('fill-mark-unread', `${fault}.`))
  if (points.length + rejected.length === 0)
    reasons.push(
      voids('no-fill-marks', `No fill mark with readings of ${channel}: mark each pour with its volume.`),
    )
  else if (steps_level.length === 0)
    reasons.push(voids('too-few-points', 'Fewer than three good points in level attitude in any direction.'))
  if (rejected.length > 0) {
    const codes = [...new Set(rejected.map(({ code }) => code))].join(', ')
    reasons.push(
      told(
        'points-rejected',
        `${rejected.length} of ${points.length + rejected.length} points were left out: ${codes}.`,
      ),
    )
  }
  return reasons
}

function zeroReasons({ runs, tank, unusable_L, steps_level }: LevelFacts): WeighedReason[] {
  const rule = '14 CFR 23.1337(b)(1)'
  const starts = runs.map(({ start }) => start)
  const level = starts.find((start) => start !== null && start.attitude !== 'ground')
  if (!level) {
    const why = starts.some((start) => start !== null)
      ? 'zero was taken in ground attitude only'
      : 'no mark says that the tank stood at unusable fuel (start="unusable") or dry'
    return [
      leavesOpen('zero-not-shown', `Zero at unusable fuel in level attitude (${rule}) is not shown: ${why}.`),
    ]
  }
  if (level.at === 'dry' && unusable_L === null)
    return [
      leavesOpen(
        'unusable-not-stated',
        `Filled from dry, but no unusable fuel of ${tank.id} was found or is stated: zero (${rule}) cannot be placed.`,
      ),
    ]
  if (steps_level.length > 0 && steps_level[0].reading === null)
    return [
      leavesOpen(
        'zero-not-read',
        `The reading at unusable fuel (${rule}) did not count: see the points left out.`,
      ),
    ]
  const how = level.at === 'unusable' ? 'drained to unusable fuel' : 'by the unusable fuel'
  return [told('zero-at-unusable', `Zero of the table is unusable fuel in level attitude, ${how} (${rule}).`)]
}

/**
 * What the tank did not give up, against the placard: fuel that cannot be used is not to be counted on.
 *
 * Source: [14-cfr-23] 23.959(a): the first evidence of malfunction under the most adverse feed condition
 */
function unusableReasons({ unusable, tank }: LevelFacts): WeighedReason[] {
  if (unusable === null) return []
  const { m3, halfWidthM3, how } = unusable
  const found = `${(m3 * 1e3).toFixed(1)} L ± ${(halfWidthM3 * 1e3).toFixed(1)} L of unusable fuel found`
  if (how === null)
    return [
      leavesOpen(
        'unusable-how-not-stated',
        `${found}: state how, in the most adverse attitude to the first sign of a failing engine or feed (14 CFR 23.959).`,
      ),
    ]
  const stated = tank.unusableM3
  if (stated !== null && m3 - halfWidthM3 > stated)
    return [
      fails(
        'unusable-above-stated',
        `${found} (${how}), but ${(stated * 1e3).toFixed(1)} L stated: less fuel can be used than the file and placard promise (14 CFR 23.959). Correct both.`,
      ),
    ]
  return [told('unusable-found', `${found} (${how}), and subtracted (14 CFR 23.959).`)]
}

function sumReasons({ jug, runs }: LevelFacts): WeighedReason[] {
  if (jug === null) return []
  const reasons: WeighedReason[] = []
  if (runs.some((run) => !run.jugStated))
    reasons.push(told('jug-tolerance-assumed', 'A pour states no tolerance: ± 2 % is assumed (our figure).'))
  if (jug.difference_L === null || jug.difference_allowed_L === null) {
    reasons.push(
      told('sum-not-closed', 'No total known otherwise: the error of the jug rests on its stated tolerance.'),
    )
    return reasons
  }
  const figures = `the pours add up to ${jug.sum_L.toFixed(2)} L, the total is ${jug.total_L!.toFixed(2)} L (difference ${jug.difference_L.toFixed(2)} L, ${jug.difference_allowed_L.toFixed(2)} L allowed)`
  if (Math.abs(jug.difference_L) > jug.difference_allowed_L + 1e-9)
    reasons.push(
      fails(
        'sum-does-not-close',
        `The sum does not close: ${figures}. A pour was missed or the jug is wrong.`,
      ),
    )
  else
    reasons.push(
      told('sum-closes', `The sum closes: ${figures}; a liter by the jug is ${jug.factor.toFixed(4)} L.`),
    )
  return reasons
}

function capacityReasons({ capacity }: LevelFacts): WeighedReason[] {
  if (capacity === null)
    return [
      told(
        'capacity-not-measured',
        'The tank was not marked full: its capacity is not compared with the placard.',
      ),
    ]
  const { measured_L, measured_low_L, measured_high_L, placard_L } = capacity
  const measured = `${measured_L.toFixed(1)} L (${measured_low_L.toFixed(1)} to ${measured_high_L.toFixed(1)})`
  if (placard_L === null)
    return [told('no-placard', `The tank holds ${measured}; the system file states no capacity.`)]
  if (placard_L > measured_high_L)
    return [
      fails(
        'placard-too-high',
        `The placard says ${placard_L.toFixed(1)} L, the tank holds ${measured}: less than the placard promises.`,
      ),
    ]
  if (placard_L < measured_low_L)
    return [
      told(
        'placard-low',
        `The tank holds ${measured}, more than the ${placard_L.toFixed(1)} L of the placard.`,
      ),
    ]
  return [told('placard-agrees', `The tank holds ${measured}; the placard says ${placard_L.toFixed(1)} L.`)]
}

function curveReasons({
  steps_level,
  hysteresis,
  reads_up_to_L,
  usable_full_L,
}: LevelFacts): WeighedReason[] {
  if (steps_level.length === 0) return []
  const reasons: WeighedReason[] = []
  if (hysteresis === null)
    reasons.push(
      leavesOpen(
        'one-direction',
        'Only one direction was taken in level attitude: draw fuel off again to find the hysteresis.',
      ),
    )
  const blind = steps_level.filter(({ reading }) => reading === null).map(({ step }) => step)
  if (reads_up_to_L !== null && usable_full_L !== null) {
    reasons.push(
      leavesOpen(
        'sender-stops-short',
        `The sender no longer moves above ${reads_up_to_L.toFixed(1)} L of ${usable_full_L.toFixed(1)} L: the gauge cannot tell there (${blind.join(', ') || 'no step'}).`,
      ),
    )
  } else if (blind.length > 0)
    reasons.push(leavesOpen('steps-not-reached', `No point reaches ${blind.join(', ')}.`))
  const confused = steps_level.flatMap((step, i) => {
    const next = steps_level[i + 1]
    const { usable_high_L: high } = step
    return next &&
      high !== null &&
      next.usable_low_L !== null &&
      high >= next.usable_L &&
      next.usable_low_L <= step.usable_L
      ? [`${step.step} and ${next.step}`]
      : []
  })
  if (confused.length > 0)
    reasons.push(
      leavesOpen('steps-not-told-apart', `The sender cannot tell these apart: ${confused.join('; ')}.`),
    )
  return reasons
}
