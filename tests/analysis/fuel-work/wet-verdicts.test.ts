import { readFileSync } from 'node:fs'
import { describe, expect, test } from 'vitest'
import { checkFlow, runFlow } from '#analysis/fuel-work/check-flow.ts'
import { type FlowRun, type FlowSheet, readFlowSheet } from '#analysis/fuel-work/flow-sheet.ts'
import { judgeTorque, stillCuring, type WorkEntry } from '#analysis/fuel-work/judge-torque.ts'
import { judgeWetStage } from '#analysis/fuel-work/judge-wet-stage.ts'
import { SheetEntries } from '#analysis/fuel-work/sheet-entries.ts'
import {
  type EarlierStage,
  stagesBefore,
  type WetLook,
  type WetSheet,
} from '#analysis/fuel-work/wet-sheet.ts'
import { wetStages } from '#analysis/fuel-work/wet-stages.ts'
import type { Finding } from '#analysis/hunt/look-likelihood.ts'
import type { Fitting } from '#analysis/model/system.ts'
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
  inTankM3: null,
  lowestHead: true,
  outlet: 'level',
  inletPa: { value: 30e3, std: 500 },
  ...changes,
})
const [left, right] = ['left-tank', 'right-tank'].map((id) => ({ id, unusableM3: 1.5e-3 }))
const flowResult = (runs: readonly FlowRun[], changes: Partial<FlowSheet> = {}) =>
  checkFlow({
    fuel: 'avgas',
    takeOffM3PerS: { value: 40 * perHour, std: 0 },
    takeOffSource: 'manual',
    rules: null,
    climbDeg: 10,
    marginDeg: 2,
    pumps: runs.some(({ feed }) => feed === 'pump') ? ['boost'] : [],
    inletLimitsPa: [14e3, 55e3],
    inletLimitsSource: 'manual',
    measuredDensity: null,
    runs,
    omitted: [],
    tanks: [left],
    ...changes,
  })
const flow = (...words: Parameters<typeof flowResult>) => flowResult(...words).verdict
const pumped = (litersPerHour: number, changes: Partial<FlowRun> = {}) =>
  run(litersPerHour, { feed: 'pump', pump: 'boost', ...changes })

describe('checkFlow', () => {
  test('runFlow of 9.5 kg shown in 600 s of 721 kg/m³ is 79.176935 L/h (computed)', () => {
    const weighed = run(0, { delivered: { by: 'mass', shownKg: { value: 9.5, std: 0 } } })
    expect(runFlow(weighed, { value: 721, std: 0 }).value / perHour).toBeCloseTo(79.176935, 3)
  })
  test('checkFlow needs 150 % by gravity and 125 % by pump (14 CFR 23.955): 61 of 40 L/h passes, 51 by pump only', () => {
    expect([flow([run(61)]), flow([run(59)]), flow([pumped(51)]), flow([run(51)])]).toEqual([
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
    expect(flow([run(80, { attitudeDeg: 11 })])).toBe('void')
  })
  test('checkFlow needs each pump alone from each tank alone, and once all together; what is left out needs its reason (14 CFR 23.951, 23.955)', () => {
    const tanks = [left, right]
    const pumps = ['boost', 'engine']
    const runs = [pumped(80), pumped(80, { pump: 'engine' }), pumped(80, { tank: 'right-tank' })]
    expect(flowResult(runs, { tanks, pumps }).missing).toEqual([
      'right-tank, engine',
      'every pump together, for the pressure at the engine',
    ])
    expect(flow(runs, { tanks, pumps })).toBe('undecided')
    const all = [pumped(80, { tank: 'right-tank', pump: 'engine' }), pumped(90, { pump: 'all' })]
    expect(flow([...runs, ...all], { tanks, pumps })).toBe('pass')
    const omitted = [{ tank: 'right-tank', pump: 'engine', why: 'one line from the selector on' }]
    expect(flow([...runs, all[1]], { tanks, pumps, omitted })).toBe('pass')
    expect(flow([run(80)], { pumps: null })).toBe('undecided')
  })
  test('checkFlow reckons the lowest head: 1.5 L unusable and 10 L taken, so 11 L in the tank pass and 20 L are void (14 CFR 23.955(a)(1))', () => {
    const inTank = (m3: number) => run(61, { inTankM3: { value: m3, std: 0 }, lowestHead: null })
    expect(flow([inTank(11e-3)])).toBe('pass')
    expect(flow([inTank(20e-3)])).toBe('void')
    expect(flow([inTank(11e-3)], { tanks: [{ id: 'left-tank', unusableM3: null }] })).toBe('undecided')
  })
  test('checkFlow is void where it ran out below the engine inlet, and open where nobody says (a can on the floor adds head)', () => {
    expect(flow([run(80, { outlet: 'lower' })])).toBe('void')
    expect(flow([run(80, { outlet: null })])).toBe('undecided')
    expect(flow([run(80, { outlet: 'higher' })])).toBe('pass')
  })
  test('checkFlow holds the pressure at the inlet against what the engine accepts, with its interval; gravity has none', () => {
    const at = (value: number) => flow([pumped(80, { inletPa: { value, std: 500 } })])
    expect([at(30e3), at(10e3), at(60e3), at(14.5e3)]).toEqual(['pass', 'fail', 'fail', 'undecided'])
    expect(flow([pumped(80, { inletPa: null })])).toBe('undecided')
    expect(flow([run(80, { inletPa: null })])).toBe('pass')
  })
  test('checkFlow leaves a check by ASTM F3063 open: its figures were not read', () => {
    expect(flow([run(80)], { rules: 'ASTM F3063' })).toBe('undecided')
  })
  test('checkFlow asks about 680 L/h, nose up 80°, a line for a tank and one of two tanks', () => {
    const tanks = [left, right]
    const second = run(1100, { tank: 'right-tank' })
    expect(flow([run(61), run(61, { tank: 'right-tank' })], { tanks })).toBe('pass')
    expect(flow([run(1100), second], { tanks, takeOffM3PerS: { value: 680 * perHour, std: 0 } })).toBe(
      'undecided',
    )
    expect(flow([run(61, { attitudeDeg: 80 }), second], { tanks })).toBe('undecided')
    expect(flow([run(61), second, run(61, { tank: 'feed-lines' })], { tanks })).toBe('undecided')
    expect(flow([run(61)], { tanks })).toBe('undecided')
  })
  test('readFlowSheet refuses avgas of 0.90 kg/L and takes 0.72 (ASTM D910, from memory)', () => {
    const sheet = (density: string) => ({
      fuel: 'avgas',
      'take-off-flow': '40 L/h',
      density,
      'density-at': '15 degC',
      runs: [],
    })
    const read = (density: string) => () => readFlowSheet(sheet(density), plane, () => null!)
    expect(read('0.90 kg/L')).toThrow('density of 0.900 kg/L is not that of avgas')
    expect(read('0.72 kg/L')).not.toThrow()
  })
})

const look = (fitting: string, hours: number, finding: Finding = 'dry'): WetLook => ({
  fitting,
  atS: hours * 3600,
  finding,
  by: 'ab',
  how: ['paper'],
  stamped: true,
  spreadM: null,
  sinceWipeS: null,
  headM: 1,
  withdrawn: null,
})
const leftOut = new Map(['F01', 'F04', 'F05'].map((id) => [id, 'above the fuel']))
const noOmission = { steps: new Map<number, string>(), stages: new Map<string, string>(), fittings: leftOut }
const earlierStages: readonly EarlierStage[] = (
  ['before-fuel', 'first-fill-shut', 'opened', 'pump-on'] as const
).map((name, i) => ({
  record: `000${i + 1}-x`,
  stage: name,
  sections: ['left-tank'],
  verdict: 'pass',
  timeNs: '0',
}))
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
      done: [1, 2, 3, 4, 5, 6, 7, 8, 9],
      omitted: noOmission,
      before: earlierStages,
      ...changes,
    },
    plane,
  )
const codes = (changes: Partial<WetSheet>) => stage(changes).reasons.map(({ code }) => code)

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
  test('judgeWetStage with the pump on asks for the liquid hold and takes its verdict; without one it needs the reason', () => {
    const on = (holdVerdict: 'pass' | 'fail' | null) =>
      stage({ stage: 'pump-on', holdRecord: holdVerdict && '0001-x', holdVerdict })
    expect([on(null).verdict, on('pass').verdict, on('fail').verdict]).toEqual(['undecided', 'pass', 'fail'])
    expect(on('fail').proves).toEqual([])
    const without = stage({
      stage: 'pump-on',
      done: [1, 2, 3, 4, 6, 7, 8],
      omitted: { ...noOmission, steps: new Map([[5, 'no gauge between pump and shut-off']]) },
    })
    expect([without.verdict, without.reasons.map(({ code }) => code)]).toEqual([
      'pass',
      expect.arrayContaining(['liquid-hold-omitted', 'steps-omitted']),
    ])
  })
  test('judgeWetStage does not count a dry look that names nobody or no method, but counts any fuel (own rule)', () => {
    const nobody = stage({ looks: [look('F02', 9), { ...look('F03', 9), by: null }] })
    const nohow = stage({ looks: [look('F02', 9), { ...look('F03', 9), how: [] }] })
    expect([nobody.verdict, nobody.proves, nohow.verdict]).toEqual(['undecided', ['F02'], 'undecided'])
    const wet = stage({ looks: [look('F02', 9), { ...look('F03', 9, 'drip'), by: null, how: [] }] })
    expect(wet.verdict).toBe('fail')
  })
  test('judgeWetStage stays open where one of five joints passes and four are left out without a reason', () => {
    const one = { fittings: ['F03'], looks: [look('F03', 9)] }
    const bare = { ...noOmission, fittings: new Map<string, string>() }
    expect([stage({ ...one, omitted: bare }).verdict, codes({ ...one, omitted: bare })]).toEqual([
      'undecided',
      expect.arrayContaining(['fittings-left-out']),
    ])
    const four = new Map([...leftOut, ['F02', 'no sender fitted yet']])
    const explained = stage({ ...one, omitted: { ...noOmission, fittings: four } })
    expect([explained.verdict, explained.proves]).toEqual(['pass', ['F03']])
    expect(explained.reasons.find(({ code }) => code === 'fittings-omitted')?.message).toContain(
      'F02 (no sender fitted yet)',
    )
  })
  test('judgeWetStage leaves out a look withdrawn with its reason, and keeps it in the result', () => {
    const mistaken = { ...look('F03', 9, 'seep'), withdrawn: 'tapped the wrong joint' }
    const result = stage({ looks: [look('F02', 9), look('F03', 9), mistaken] })
    expect([result.verdict, result.looks.length]).toEqual(['pass', 3])
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

  test('stagesBefore takes the last of each earlier stage of each section, up to the beginning (own rule)', () => {
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
    const both = [
      sealed('0001-a', 'opened', 'fail', '10'),
      sealed('0002-b', 'opened', 'pass', '20', ['right-tank']),
    ]
    expect(
      stagesBefore('pump-on', ['left-tank', 'right-tank'], '50', both).map(({ record }) => record),
    ).toEqual(['0001-a', '0002-b'])
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
  test('judgeWetStage stays open and proves nothing where a stage is not in the archive; with a reason it passes (own rule)', () => {
    const before = earlierStages.filter(({ stage: name }) => name !== 'pump-on')
    const skipped = stage({ before })
    expect([skipped.verdict, skipped.proves]).toEqual(['undecided', []])
    const stages = new Map([['pump-on', 'gravity feed, no pump']])
    const omitted = stage({ before, omitted: { ...noOmission, stages } })
    expect([omitted.verdict, omitted.reasons.map(({ code }) => code)]).toEqual([
      'pass',
      expect.arrayContaining(['stage-omitted']),
    ])
  })
  test('judgeWetStage stays open where only one of two tanks went through the stages before (own rule)', () => {
    const both = stage({
      sections: ['left-tank', 'right-tank'],
      omitted: {
        ...noOmission,
        fittings: new Map(['F01', 'F04', 'F05', 'F06', 'F07', 'F08', 'F09', 'F10'].map((id) => [id, 'x'])),
      },
    })
    expect(both.verdict).toBe('undecided')
    expect(both.reasons.find(({ code }) => code === 'stage-skipped')?.message).toContain('right-tank')
  })
  test('judgeWetStage stays open on a step nobody ticked; a reason excuses it, but never a safety step (own rule)', () => {
    const result = stage({ done: [1, 2, 3, 4, 5, 6] })
    expect([result.verdict, result.proves]).toEqual(['undecided', []])
    expect(result.reasons.find(({ code }) => code === 'steps-not-ticked')?.message).toContain(': 7.')
    const steps = new Map([[7, 'nothing dried']])
    expect(stage({ done: [1, 2, 3, 4, 5, 6], omitted: { ...noOmission, steps } }).verdict).toBe('pass')
    const noBond = stage({
      done: [1, 2, 4, 5, 6, 7],
      omitted: { ...noOmission, steps: new Map([[3, 'in a hurry']]) },
    })
    expect([noBond.verdict, noBond.reasons.map(({ code }) => code)]).toEqual([
      'undecided',
      expect.arrayContaining(['safety-step-open']),
    ])
  })
  test('every stage with fuel begins with place, extinguisher and bonding as safety steps', () => {
    for (const { name, steps } of wetStages.filter(({ name }) => name !== 'before-fuel')) {
      const words = steps.filter(({ safety }) => safety).map(({ text }) => text)
      expect(words.join(' '), name).toMatch(/fire code.*extinguisher.*Bond first/s)
    }
    const fill = wetStages.find(({ name }) => name === 'first-fill-shut')!.steps.map(({ text }) => text)
    expect(fill.findIndex((text) => text.includes('Cap the open end'))).toBeLessThan(
      fill.findIndex((text) => text.startsWith('Add a few liters')),
    )
  })
})

const entry: WorkEntry = {
  action: 'remake',
  torqueNm: 12.5,
  toleranceNm: 0.5,
  torqueAsRead: null,
  runOnNm: null,
  threads: 'lubricated',
  makerRangeNm: null,
  makerSource: null,
  turn: null,
  bolts: null,
  sealant: null,
  cureS: null,
  tool: 'wrench',
  toolCalibrated: '2026-03-02',
  toolDue: null,
  by: 'ab',
  timeNs: String(BigInt(Date.parse('2026-05-10')) * 1_000_000n),
  witnessMark: true,
}
const f05 = plane.fittings.find(({ id }) => id === 'F05')!
const torque = (changes: Partial<WorkEntry>, fitting: Partial<Fitting> = {}) =>
  judgeTorque({ ...f05, torqueNm: null, ...fitting }, { ...entry, ...changes })
const torqueCodes = (...given: Parameters<typeof torque>) => torque(...given).reasons.map(({ code }) => code)

describe('SheetEntries.day', () => {
  const due = (text: string) => new SheetEntries({ due: text }, 'entry 1').day('due')
  test('reads days of the Gregorian calendar only: 2024 is a leap year, 2026 and 2100 are not', () => {
    expect(due('2024-02-29')).toBe('2024-02-29')
    for (const text of [
      '2026-02-29',
      '2100-02-29',
      '2026-02-31',
      '2026-04-31',
      '2026-13-01',
      '2026-3-2',
      'soon',
    ])
      expect(() => due(text)).toThrow(`entry 1: due "${text}" is not a day; write it as 2026-03-02`)
  })
})

describe('judgeTorque', () => {
  test('judgeTorque takes −6 aluminium as 100–125 in·lb, 11.298–14.123 N·m (TM 55-1520-240-23-1)', () => {
    const result = torque({})
    expect(result.verdict).toBe('pass')
    expect(result.range_low_Nm).toBeCloseTo(11.298, 3)
    expect(result.range_high_Nm).toBeCloseTo(14.123, 3)
  })
  test('judgeTorque takes hose nuts from their own column whatever the metal: −10 fails at 76 N·m, −6 at 12.6 N·m (TM 55-1520-240-23-1, E)', () => {
    const hose = (size: string, torqueNm: number, material: Fitting['material']) =>
      torque({ torqueNm }, { kind: 'hose-end', size, material })
    for (const metal of ['steel', 'aluminium', null] as const) {
      expect(hose('-10', 76, metal).verdict).toBe('fail')
      expect(hose('-6', 12.6, metal).verdict).toBe('fail')
      expect(hose('-10', 50, metal).verdict).toBe('pass')
      expect(hose('-6', 26, metal).verdict).toBe('pass')
    }
    const ten = hose('-10', 50, 'steel')
    expect([ten.range_low_Nm, ten.range_high_Nm].map((nm) => nm?.toFixed(1))).toEqual(['45.2', '54.2'])
    const six = hose('-6', 26, null)
    expect([six.range_low_Nm, six.range_high_Nm].map((nm) => nm?.toFixed(1))).toEqual(['23.7', '28.2'])
  })
  test('judgeTorque fails outside the range and leaves open what the tolerance reaches over', () => {
    const verdicts = [10, 11.5, 14, 15].map((torqueNm) => torque({ torqueNm }).verdict)
    expect(verdicts).toEqual(['fail', 'undecided', 'undecided', 'fail'])
  })
  test('judgeTorque leaves open an overdue wrench, an unnamed one, and no witness mark', () => {
    const verdicts = [{ toolCalibrated: '2025-03-02' }, { tool: null }, { witnessMark: false }].map(
      (c) => torque(c).verdict,
    )
    expect(verdicts).toEqual(['undecided', 'undecided', 'undecided'])
  })
  test('judgeTorque puts the maker’s range before the table', () => {
    expect(torque({ makerRangeNm: [15, 17], makerSource: 'kit manual' }).verdict).toBe('fail')
  })
  test('judgeTorque leaves open dry threads against a table for lubricated ones (TM 55-1520-240-23-1)', () => {
    expect(torqueCodes({ threads: 'dry' })).toContain('threads-not-as-table')
    expect(torque({ threads: null }).verdict).toBe('undecided')
  })
  test('judgeTorque passes nothing by a range from memory: −3 and −5 only guide (own rule)', () => {
    expect(torque({ torqueNm: 8, toleranceNm: 0 }, { size: '-5' }).verdict).toBe('undecided')
    expect(torqueCodes({ torqueNm: 8, toleranceNm: 0 }, { size: '-5' })).toContain('range-from-memory')
    expect(torque({ torqueNm: 70 }, { size: '-16' }).verdict).toBe('pass')
  })
  test('judgeTorque takes the run-on torque of a self-locking nut off what the wrench reads (AC 43.13-1B 7-40 d)', () => {
    expect(torque({ torqueNm: 15.5 }).verdict).toBe('fail')
    expect(torque({ torqueNm: 15.5, runOnNm: 2.5 }).verdict).toBe('pass')
  })
  test('judgeTorque fails a 10-32 screw beyond 40 in·lb and asks a flange for its pattern (AC 43.13-1B table 7-1)', () => {
    const sender = { kind: 'sender-gasket', size: '10-32', material: null } as const
    const maker = { makerRangeNm: [1.5, 2.2] as const, makerSource: 'kit manual', toleranceNm: 0 }
    expect(torqueCodes({ ...maker, torqueNm: 5 }, sender)).toContain('screw-overloaded')
    expect(torque({ ...maker, torqueNm: 1.8 }, sender).verdict).toBe('undecided')
    const bolts = { count: 5, passes: 2, sequence: 'crosswise' as const }
    expect(torque({ ...maker, torqueNm: 1.8, bolts }, sender).verdict).toBe('pass')
    expect(torque({ ...maker, torqueNm: 1.8, bolts: { ...bolts, passes: 1 } }, sender).verdict).toBe(
      'undecided',
    )
  })
  test('judgeTorque never passes a reseal without a torque or without a cure', () => {
    const thread = { kind: 'pipe-thread', size: '1/4 NPT', material: null } as const
    const maker = { makerRangeNm: [10, 14] as const, makerSource: 'maker' }
    const sealed = { action: 'reseal', sealant: 'tank sealant', cureS: 48 * 3600 } as const
    expect(torque({ ...maker, action: 'reseal' }, thread).verdict).toBe('undecided')
    expect(torque({ ...sealed, torqueNm: null, tool: null }, thread).verdict).toBe('undecided')
    const whole = torque({ ...maker, ...sealed }, thread)
    expect(whole.verdict).toBe('pass')
    const nowNs = BigInt(entry.timeNs)
    expect(stillCuring([whole], ['left-tank'], nowNs + 47n * 3_600_000_000_000n)?.id).toBe('F05')
    expect(stillCuring([whole], ['left-tank'], nowNs + 48n * 3_600_000_000_000n)).toBeNull()
    expect(stillCuring([whole], ['right-tank'], nowNs)).toBeNull()
  })
})
