import { expect, it } from 'vitest'
import { gasHold } from '#analysis/fit/gas-rows.ts'
import type { Allowance } from '#analysis/model/system.ts'
import { pressurisedBodies } from '#analysis/signal/pressurised-bodies.ts'
import { gasFinding } from '#analysis/verdict/gas-finding.ts'
import { seededRandom } from '#ingest/simulator/random.ts'
import { allowedPa, holdS, type Made, madeView } from '../faults/made-hold.ts'

const findingOf = (parts: Made) => {
  const { recording, system, ...view } = madeView(parts)
  const stages = { ...view, source: 'marks' as const }
  const [measured] = pressurisedBodies(recording, system, view.spec).measured
  const hold = gasHold(recording, system, stages, measured.signal, ['line'], view.untilS)!
  return gasFinding(hold, system, stages, measured, 1, { creeps: false, quick: true })!
}

it.each([600, 300])(
  'gasFinding(%i of 600 s) has the white noise of a line through n readings: 12 σ²/n of its fall in that time (textbook)',
  (heldS) => {
    const random = seededRandom(7)
    const sigmaPa = 40
    const { white } = findingOf({
      ventS: holdS + heldS,
      section: { stretchPerPa: 0 },
      pa: (_, quiet) => quiet + sigmaPa * random.normal(),
    }).variance
    const textbook = ((12 * sigmaPa ** 2) / heldS) * (600 / heldS) ** 2
    expect(white / textbook).toBeGreaterThan(0.7)
    expect(white / textbook).toBeLessThan(1.4)
  },
)

it('gasFinding(a leak in moles) has the noise of its drop, and the tolerance of the volume (JCGM 100:2008 4.3.7)', () => {
  const shares = (allow: Allowance, volumeToleranceM3: number) => {
    const random = seededRandom(7)
    const { judged, variance } = findingOf({
      section: { stretchPerPa: 0, volumeM3: 1e-3, volumeToleranceM3 },
      spec: { allow },
      pa: (timeS, quiet) =>
        quiet - (timeS < 770 ? 10 * Math.max(0, timeS - holdS) : 0) + 20 * random.normal(),
    })
    return { white: variance.white / judged.value ** 2, lasting: variance.lasting / judged.value ** 2 }
  }
  const [moles, loose, drop] = [
    shares({ kind: 'gas-leak', molPerS: 1e-6 }, 0),
    shares({ kind: 'gas-leak', molPerS: 1e-6 }, 0.3e-3),
    shares({ kind: 'drop', dropPa: allowedPa }, 0),
  ]
  for (const part of ['white', 'lasting'] as const) expect(moles[part] / drop[part]).toBeCloseTo(1, 1)
  // Rectangular: a third of the square of the relative half width.
  expect((loose.lasting - moles.lasting) / (0.3 ** 2 / 3)).toBeCloseTo(1, 1)
})

it.each([
  ['a drop', { kind: 'drop', dropPa: allowedPa }, 1],
  ['a rise under suction', { kind: 'rise', dropPa: allowedPa }, -1],
] as const satisfies readonly (readonly [string, Allowance, number])[])(
  'gasFinding(an allowance of %s) does not depend on the volume',
  (_, allow, sign) => {
    const lasting = (volumeToleranceM3: number) =>
      findingOf({
        section: { stretchPerPa: 0, volumeToleranceM3 },
        spec: { allow, pressurePa: sign * 30_000 },
        pa: (timeS, quiet) =>
          (sign * quiet * 30_000) / 68_947.57 - (timeS < 770 ? sign * 0.5 * Math.max(0, timeS - holdS) : 0),
      }).variance.lasting
    expect(lasting(0.1e-3)).toBe(lasting(0))
  },
)

it('gasFinding(rows without pressures) is null: nothing is fitted', () => {
  const { recording, system, ...view } = madeView({ section: { stretchPerPa: 0 } })
  const stages = { ...view, source: 'marks' as const }
  const [measured] = pressurisedBodies(recording, system, view.spec).measured
  const hold = gasHold(recording, system, stages, measured.signal, ['line'], view.untilS)!
  const unread = { ...hold, rows: { ...hold.rows, absolutePa: hold.rows.absolutePa.map(() => Number.NaN) } }
  expect(gasFinding(unread, system, stages, measured, 1, { creeps: false, quick: true })).toBeNull()
})
