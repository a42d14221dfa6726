import { readFileSync } from 'node:fs'
import { describe, expect, test } from 'vitest'
import { checkFlow, runFlow } from '#analysis/fuel-work/check-flow.ts'
import type { FlowRun, FlowSheet } from '#analysis/fuel-work/flow-result.ts'
import { judgeTorque, type WorkEntry } from '#analysis/fuel-work/judge-torque.ts'
import { judgeWetStage, type WetSheet } from '#analysis/fuel-work/judge-wet-stage.ts'
import { type EarlierStage, stagesBefore } from '#analysis/fuel-work/stage-order.ts'
import { readSystemFile } from '#ingest/system-file/read-system-file.ts'

const text = readFileSync(new URL('../../../recordings/floatplane.yaml', import.meta.url), 'utf8')
const plane = readSystemFile(text, 'floatplane.yaml').system!
const perHour = 1e-3 / 3600

const run = (litersPerHour: number, changes: Partial<FlowRun> = {}): FlowRun => ({
  tank: 'left-tank',
  feed: 'gravity',
  pump: null,
  delivered: { by: 'volume', m3: { value: (litersPerHour * 1e-3) / 6, std: 0 } },
  seconds: { value: 600, std: 3 },
  temperatureK: { value: 291.15, std: 0 },
  attitudeDeg: 12,
  lowestHead: true,
  ...changes,
})
const flow = (runs: readonly FlowRun[], changes: Partial<FlowSheet> = {}) =>
  checkFlow({
    fuel: 'avgas',
    takeOffM3PerS: { value: 40 * perHour, std: 0 },
    takeOffSource: 'manual',
    climbDeg: 12,
    measuredDensity: null,
    runs,
    ...changes,
  }).verdict

describe('checkFlow', () => {
  test('runFlow of 9.5 kg shown in 600 s of 721 kg/m³ is 79.176935 L/h (computed)', () => {
    const weighed = run(0, { delivered: { by: 'mass', shownKg: { value: 9.5, std: 0 } } })
    expect(runFlow(weighed, { value: 721, std: 0 }).value / perHour).toBeCloseTo(79.176935, 3)
  })
  test('checkFlow needs 150 % by gravity and 125 % by pump (14 CFR 23.955): 61 of 40 L/h passes, 51 by pump only', () => {
    expect([flow([run(61)]), flow([run(59)]), flow([run(51, { feed: 'pump' })]), flow([run(51)])]).toEqual([
      'pass',
      'fail',
      'pass',
      'fail',
    ])
  })
  test('checkFlow leaves open what its interval holds: 60.3 L/h ± 1 % against 60 (guard band)', () => {
    expect(flow([run(60.3)])).toBe('undecided')
  })
  test('checkFlow is void in a flatter attitude or with a fuller tank, and a fail stands there (14 CFR 23.955)', () => {
    expect(flow([run(80, { attitudeDeg: 3 })])).toBe('void')
    expect(flow([run(80, { lowestHead: false })])).toBe('void')
    expect(flow([run(80, { lowestHead: null })])).toBe('undecided')
    expect(flow([run(40, { attitudeDeg: 3 })])).toBe('fail')
  })
})

const look = (fitting: string, hours: number, finding: 'dry' | 'seep' = 'dry') => ({
  fitting,
  atS: hours * 3600,
  finding,
  spreadM: null,
  sinceWipeS: null,
  headM: 1,
})
const stage = (changes: Partial<WetSheet>) =>
  judgeWetStage(
    {
      stage: 'brim-full-soak',
      sections: ['left-tank'],
      fittings: ['F02', 'F03'],
      beganNs: '0',
      fuel: 'avgas',
      temperatureK: 288.15,
      looks: [look('F02', 9), look('F03', 9)],
      holdRecord: null,
      holdVerdict: null,
      done: [1, 2, 3],
      before: [],
      ...changes,
    },
    plane,
  )

describe('judgeWetStage', () => {
  test('judgeWetStage passes a soak after which all were dry, with the head of 721 kg/m³ (7070.6 Pa a meter, computed)', () => {
    const result = stage({})
    expect([result.verdict, result.proves]).toEqual(['pass', ['F02', 'F03']])
    expect(result.looks[0].head_Pa).toBeCloseTo(7070.59, 1)
  })
  test('judgeWetStage fails on any fuel and still proves what was dry', () => {
    const result = stage({ looks: [look('F02', 9), look('F03', 9, 'seep')] })
    expect([result.verdict, result.proves, result.wept]).toEqual(['fail', ['F02'], ['F03']])
  })
  test('judgeWetStage leaves open a fitting looked at too soon', () => {
    const result = stage({ looks: [look('F02', 9), look('F03', 0.5)] })
    expect([result.verdict, result.proves]).toEqual(['undecided', ['F02']])
  })
  test('judgeWetStage proves nothing by the first small fill', () => {
    expect(stage({ stage: 'first-fill-shut' }).proves).toEqual([])
  })
  test('judgeWetStage with the pump on asks for the liquid hold and takes its verdict', () => {
    const on = (holdVerdict: 'pass' | 'fail' | null) =>
      stage({ stage: 'pump-on', holdRecord: holdVerdict && '0001-x', holdVerdict })
    expect([on(null).verdict, on('pass').verdict, on('fail').verdict]).toEqual(['undecided', 'pass', 'fail'])
    expect(on('fail').proves).toEqual([])
  })
})

describe('stagesBefore and judgeWetStage in order', () => {
  const sealed = (
    record: string,
    name: EarlierStage['stage'],
    verdict: 'pass' | 'fail',
    timeNs: string,
    sections = ['left-tank'],
  ): EarlierStage => ({ record, stage: name, sections, verdict, timeNs })
  const codes = (changes: Partial<WetSheet>) => stage(changes).reasons.map(({ code }) => code)

  test('stagesBefore takes the last of each earlier stage of the same sections, up to the beginning (own rule)', () => {
    const archive = [
      sealed('0001-a', 'first-fill-shut', 'fail', '10'),
      sealed('0002-b', 'first-fill-shut', 'pass', '20'),
      sealed('0003-c', 'opened', 'pass', '30', ['right-tank']),
      sealed('0004-d', 'pump-on', 'pass', '99'),
      sealed('0005-e', 'brim-full-soak', 'pass', '5'),
    ]
    expect(stagesBefore('brim-full-soak', ['left-tank'], '50', archive).map(({ record }) => record)).toEqual([
      '0002-b',
    ])
  })
  test('judgeWetStage stays open and proves nothing after an earlier stage that did not pass (own rule)', () => {
    const after = stage({ before: [sealed('0001-a', 'opened', 'fail', '0')] })
    expect([after.verdict, after.proves]).toEqual(['undecided', []])
    expect(after.reasons.map(({ code }) => code)).toContain('earlier-stage-open')
  })
  test('judgeWetStage still fails on fuel outside after an earlier stage that did not pass', () => {
    const before = [sealed('0001-a', 'opened', 'fail', '0')]
    expect(stage({ before, looks: [look('F02', 9, 'seep'), look('F03', 9)] }).verdict).toBe('fail')
  })
  test('judgeWetStage names the stages that are not in the archive; with all of them it names none', () => {
    const all = (['first-fill-shut', 'opened', 'pump-on'] as const).map((name, i) =>
      sealed(`000${i + 1}-x`, name, 'pass', '0'),
    )
    expect([codes({}).includes('stage-skipped'), codes({ before: all }).includes('stage-skipped')]).toEqual([
      true,
      false,
    ])
  })
  test('judgeWetStage seals the checklist as ticked and names what nobody ticked', () => {
    const result = stage({ done: [1, 3] })
    expect(result.steps.map(({ done }) => done)).toEqual([true, false, true])
    expect(result.reasons.find(({ code }) => code === 'steps-not-ticked')?.message).toContain(': 2.')
    expect(codes({})).not.toContain('steps-not-ticked')
  })
})

const entry: WorkEntry = {
  action: 'remake',
  torqueNm: 12.5,
  toleranceNm: 0.5,
  makerRangeNm: null,
  makerSource: null,
  tool: 'wrench',
  toolCalibrated: '2026-03-02',
  toolDue: null,
  by: 'ab',
  timeNs: String(BigInt(Date.parse('2026-05-10')) * 1_000_000n),
  stripe: true,
}
const torque = (changes: Partial<WorkEntry>) => {
  const fitting = { ...plane.fittings.find(({ id }) => id === 'F05')!, torqueNm: null }
  return judgeTorque(fitting, { ...entry, ...changes })
}

describe('judgeTorque', () => {
  test('judgeTorque takes −6 aluminium as 100–125 in·lb, 11.298–14.123 N·m (TM 55-1520-240-23-1)', () => {
    const result = torque({})
    expect(result.verdict).toBe('pass')
    expect(result.range_low_Nm).toBeCloseTo(11.298, 3)
    expect(result.range_high_Nm).toBeCloseTo(14.123, 3)
  })
  test('judgeTorque fails outside the range and leaves open what the tolerance reaches over', () => {
    const verdicts = [10, 11.5, 14, 15].map((torqueNm) => torque({ torqueNm }).verdict)
    expect(verdicts).toEqual(['fail', 'undecided', 'undecided', 'fail'])
  })
  test('judgeTorque leaves open an overdue wrench, an unnamed one, and no stripe', () => {
    const verdicts = [{ toolCalibrated: '2025-03-02' }, { tool: null }, { stripe: false }].map(
      (c) => torque(c).verdict,
    )
    expect(verdicts).toEqual(['undecided', 'undecided', 'undecided'])
  })
  test('judgeTorque puts the maker’s range before the table', () => {
    expect(torque({ makerRangeNm: [15, 17], makerSource: 'kit manual' }).verdict).toBe('fail')
  })
})
