import { expect, it } from 'vitest'
import { gaugeReadings } from '#analysis/faults/gauge-readings.ts'
import { gaugeView } from '#analysis/faults/gauge-view.ts'
import { gaugeFaults, holdFaults } from '#analysis/faults/hold-faults.ts'
import { procedureFaults } from '#analysis/faults/procedure.ts'
import type { Mark } from '#analysis/model/samples.ts'
import { codesOf, type Made, madeView, testPa, toldBy } from './made-hold.ts'

const stuck = (pa: Made['pa']) =>
  gaugeReadings(madeView({ pa })).voids.map(({ code, values }) => [code, values.still])

it('gaugeReadings(one reading from settle to vent) wants a rise at pump-up and a fall at the vent, both', () => {
  const still = Math.round(testPa)
  const rest = (timeS: number) => (timeS < 60 || timeS >= 775 ? 0 : still)
  expect(stuck((timeS) => (timeS >= 60 && timeS < 68 ? (still * (timeS - 60)) / 8 : rest(timeS)))).toEqual([])
  expect(stuck((timeS) => (timeS < 775 ? still : 0))).toEqual([['gauge-stuck', 'pump-up']])
  expect(stuck((timeS) => (timeS < 68 ? (still * Math.max(0, timeS - 60)) / 8 : still))).toEqual([
    ['gauge-stuck', 'vent'],
  ])
  const unseen = { ...madeView({ pa: rest }), pumpUpS: null }
  expect(gaugeReadings(unseen).voids.map(({ values }) => values.still)).toEqual(['pump-up'])
})

it('holdFaults() tells what the hold lacks as a whole: its start, a gauge, its name', () => {
  const view = madeView()
  const of = (over: object, unseen: readonly string[] = []) =>
    toldBy(holdFaults(view.recording, view.system, { ...view, source: 'marks', ...over }, unseen))
  expect(of({})).toEqual([])
  expect(of({ holdS: null, mayBe: ['other'] }, ['beyond'])).toEqual([
    ['void', 'hold-not-started', { hold: 'hold' }],
    ['void', 'section-not-measured', { section: 'beyond' }],
    ['caution', 'hold-guessed', { hold: 'hold', others: ['other'] }],
  ])
})

it('gaugeView() of a hold that has not begun begins where the recording ends', () => {
  const view = madeView()
  const stages = { ...view, source: 'marks' as const, holdS: null, settleS: null }
  const { holdS, settleS } = gaugeView(view.recording, view.system, view, stages, view.untilS)
  expect([holdS, settleS]).toEqual([view.endS, view.endS])
})

it('gaugeFaults() asks what kept the pressure up only of a gauge whose readings can be trusted', () => {
  const found = (pa?: Made['pa']) => codesOf(gaugeFaults(madeView({ pa }), false))
  expect(found()).toEqual(['supply-not-excluded'])
  const lively = (timeS: number, quiet: number) => Math.round(quiet + 40 * ((timeS * 7) % 13))
  expect([
    found((timeS, quiet) => (timeS >= 300 && timeS <= 400 ? 68_000 : lively(timeS, quiet))),
    found((_, quiet) => 0.8 * quiet),
    found((timeS, quiet) => (timeS > 300 && timeS < 450 ? null : quiet)),
  ]).toEqual([['gauge-stuck'], ['pressure-not-reached'], ['samples-missing']])
})

it('procedureFaults() names what was moved, worked on or seen between hold and vent', () => {
  const said = (mark: Partial<Mark>) => {
    const view = madeView({ marks: [{ timeS: 300, ...mark }] })
    const { voids, cautions } = procedureFaults(view.recording, view.system, { ...view, source: 'marks' })
    return [...voids, ...cautions].map(({ code, values }) => ({ code, ...values }))
  }
  expect(said({ kind: 'plug', id: 'P1' })).toEqual([{ code: 'plug-moved', plug: 'P1' }])
  expect(said({ kind: 'work', id: 'F9', fields: { action: 'remake' } })).toEqual([
    { code: 'work-during-hold', fitting: 'F9', action: 'remake' },
  ])
  expect(said({ kind: 'valve', id: 'V1', fields: { open: true } })).toEqual([
    { code: 'valve-moved', valve: 'V1', how: 'opened', known: true },
  ])
  expect(said({ kind: 'valve', id: 'V9', fields: { open: false } })).toEqual([
    { code: 'valve-moved', valve: 'V9', how: 'shut', known: false },
  ])
  expect(said({ kind: 'look', id: 'F9', fields: { finding: 'seep' } })).toEqual([
    { code: 'leak-seen', fittings: ['F9'] },
  ])
  expect(said({ kind: 'look', id: 'F9', fields: { finding: 'dry' } })).toEqual([])
  expect(said({ kind: 'fault', fields: { code: 'interrupted', text: 'rain' } })).toEqual([
    { code: 'interrupted', why: 'rain' },
  ])
  expect(said({ kind: 'plug', id: 'P1', timeS: 800 })).toEqual([])
})
