import { expect, it } from 'vitest'
import { gasHold } from '#analysis/fit/gas-rows.ts'
import type { Allowance } from '#analysis/model/system.ts'
import { pressurisedBodies } from '#analysis/signal/pressurised-bodies.ts'
import { gasFinding } from '#analysis/verdict/gas-finding.ts'
import { seededRandom } from '#ingest/simulator/random.ts'
import { allowedPa, holdS, type Made, madeView } from '../faults/made-hold.ts'

const varianceOf = (parts: Made) => {
  const { recording, system, ...view } = madeView(parts)
  const stages = { ...view, source: 'marks' as const }
  const [measured] = pressurisedBodies(recording, system, view.spec).measured
  const hold = gasHold(recording, system, stages, measured.signal, ['line'], view.untilS)!
  return gasFinding(hold, system, stages, measured, 1, { creeps: false, quick: true })!.variance
}

it('gasFinding() has the white noise of a line through the readings: 12 σ²/n of its fall (textbook)', () => {
  const random = seededRandom(7)
  const sigmaPa = 40
  const { white } = varianceOf({
    section: { stretchPerPa: 0 },
    pa: (_, quiet) => quiet + sigmaPa * random.normal(),
  })
  expect(white / ((12 * sigmaPa ** 2) / 600)).toBeGreaterThan(0.7)
  expect(white / ((12 * sigmaPa ** 2) / 600)).toBeLessThan(1.4)
})

it.each([
  ['a drop', { kind: 'drop', dropPa: allowedPa }, 1],
  ['a rise under suction', { kind: 'rise', dropPa: allowedPa }, -1],
] as const satisfies readonly (readonly [string, Allowance, number])[])(
  'gasFinding(an allowance of %s) does not depend on the volume',
  (_, allow, sign) => {
    const lasting = (volumeToleranceM3: number) =>
      varianceOf({
        section: { stretchPerPa: 0, volumeToleranceM3 },
        spec: { allow, pressurePa: sign * 30_000 },
        pa: (timeS, quiet) =>
          (sign * quiet * 30_000) / 68_947.57 - (timeS < 770 ? sign * 0.5 * Math.max(0, timeS - holdS) : 0),
      }).lasting
    expect(lasting(0.1e-3)).toBe(lasting(0))
  },
)
