import { expect, it } from 'vitest'
import { gasHold } from '#analysis/fit/gas-rows.ts'
import { pressurisedBodies } from '#analysis/signal/pressurised-bodies.ts'
import { liquidFinding } from '#analysis/verdict/liquid-finding.ts'
import { holdS, madeView, testPa } from '../faults/made-hold.ts'

/** A line of avgas that loses 2 Pa a second, into which 0.02 mL are pushed at a rise of 5 kPa before the hold. */
function found(stroked: boolean) {
  const strokeS = 120
  const { recording, system, ...view } = madeView({
    section: { medium: 'avgas', stretchPerPa: 0 },
    spec: { allow: { kind: 'liquid-leak', m3PerS: 1e-9 } },
    pa: (timeS, quiet) =>
      quiet < testPa / 2
        ? quiet
        : quiet - 2 * Math.max(0, timeS - holdS) + (stroked && timeS >= strokeS ? 5000 : 0),
    marks: stroked ? [{ kind: 'stroke', timeS: strokeS, fields: { volume_mL: 0.02 } }] : [],
  })
  const stages = { ...view, source: 'marks' as const }
  const [measured] = pressurisedBodies(recording, system, view.spec).measured
  const hold = gasHold(recording, system, stages, measured.signal, ['line'], view.untilS)!
  return liquidFinding(recording, stages, measured, hold, 1, true)!
}

it('liquidFinding(a stroke) leaves out the tolerance of the volume, which the stroke measures', () => {
  expect(found(true).variance.lasting).toBe(0)
})

it('liquidFinding(no stroke) counts the tolerance of the volume: 10 %, rectangular (JCGM 100:2008 4.3.7)', () => {
  const { judged, variance } = found(false)
  expect(judged.value).not.toBe(0)
  expect(Math.sqrt(variance.lasting) / Math.abs(judged.value)).toBeCloseTo(0.1 / Math.sqrt(3), 12)
})
