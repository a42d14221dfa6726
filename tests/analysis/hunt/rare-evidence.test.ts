import { describe, expect, it } from 'vitest'
import { closingHolds } from '#analysis/hunt/closing-holds.ts'
import { compareHolds } from '#analysis/hunt/compare.ts'
import { holdsInOrder, marksInOrder } from '#analysis/hunt/evidence-order.ts'
import { zerosOfHold } from '#analysis/hunt/gauge-drift.ts'
import { hunt } from '#analysis/hunt/hunt.ts'
import { allowanceOf } from '#analysis/hunt/leak-figures.ts'
import { rateMixture } from '#analysis/hunt/leak-problem.ts'
import { ledger } from '#analysis/hunt/ledger.ts'
import { subtractRig } from '#analysis/hunt/rig.ts'
import { rangeWords, torqueRange } from '#analysis/hunt/torque-tables.ts'
import type { Evidence, HoldEvidence } from '#analysis/model/evidence.ts'
import type { SectionLeak } from '#analysis/model/hold-result.ts'
import type { System } from '#analysis/model/system.ts'
import { madeView, pumpUpS } from '../faults/made-hold.ts'
import { atMinute, fitting, held, holdSpec, leak, marked, section, system, valve } from './made-system.ts'

const plane = system(
  [section('feed'), section('forward')],
  [fitting('F1', 'feed'), fitting('F2', 'feed'), fitting('W1', 'forward')],
  [valve('V1', ['feed', 'forward'])],
  [
    holdSpec('feed', ['feed'], ['V1']),
    holdSpec('forward', ['forward'], ['V1']),
    holdSpec('both', ['feed', 'forward'], []),
  ],
)
const of = (
  hold: string,
  minute: number,
  over: Partial<HoldEvidence> = {},
  verdict: 'pass' | 'fail' = 'pass',
) => ({ ...held(plane, hold, minute, verdict, null, { record: `r${minute}` }), ...over }) as HoldEvidence
const work = (id: string | null, minute: number) => marked('work', id, minute, { action: 'remake' })

describe('ledger() tells which holds do not count, and which a person accepted', () => {
  const cautions = (...evidence: Evidence[]) =>
    ledger(plane, evidence).cautions.filter((text) => /^r\d|^feed/.test(text))
  it('one of them, two alike but for a file name, and those of another reason apart', () => {
    expect(cautions(of('feed', 0, { doubt: 'its recording was imported (a.csv)' }))).toEqual([
      'r0 does not count: its recording was imported (a.csv). A person can accept it: stillhold archive accept.',
    ])
    expect(
      cautions(
        of('feed', 0, { doubt: 'its recording was imported (a.csv)' }),
        of('feed', 60, { doubt: 'its recording was imported (b.csv)' }),
        of('feed', 120, { doubt: 'it is a replay' }),
      ),
    ).toEqual([
      'r0, r60 do not count: their recording was imported. A person can accept each: stillhold archive accept.',
      'r120 does not count: it is a replay. A person can accept it: stillhold archive accept.',
    ])
  })
  it('accepted ones count, a hold without a record goes by its name', () => {
    expect(cautions(of('feed', 0, { accepted: 'its recording was imported (a.csv)', record: null }))).toEqual(
      ['feed counts although its recording was imported (a.csv).'],
    )
    expect(
      cautions(
        of('feed', 0, { accepted: 'its recording was imported (a.csv)' }),
        of('feed', 60, { accepted: 'its recording was imported (b.csv)' }),
      ),
    ).toEqual(['r0, r60 count although their recording was imported.'])
  })
  it('a mark that was corrected after sealing', () => {
    expect(cautions(of('feed', 0, { correctedBy: ['c1', 'c2'] }))).toEqual([
      'r0: a mark was corrected after sealing (c1, c2); re-analyzed, it is pass.',
    ])
  })
  it('a doubtful pass proves nothing, and says why', () => {
    const { fittings } = ledger(plane, [of('feed', 0, { doubt: 'it is a replay' })])
    expect(fittings[0].proof).toMatchObject({
      state: 'never-held',
      why: 'r0 does not count: it is a replay.',
    })
  })
})

describe('ledger() counts in words', () => {
  it('two plugs, two unknown ids, and work on nothing of a record', () => {
    const plugs = ['P1', 'P2'].map((id) => marked('plug', id, 60, { state: 'in' }))
    const unknown = [work('X1', 70), { ...work(null, 71), record: 'r9' } as Evidence]
    const told = ledger(plane, [of('both', 0), ...plugs, ...unknown])
    expect(told.message).toBe('All 3 fittings are proven, 2 plugs still in, 2 work marks on unknown ids.')
    expect(told.errors).toEqual([
      'Work is marked on X1, which the system file does not name: correct the mark, or add it to the file.',
      'Work in r9 is marked on nothing, which the system file does not name: correct the mark, or add it to the file.',
    ])
  })
  it('what no hold covers', () => {
    const blind = system(
      plane.sections,
      plane.fittings,
      plane.valves,
      [holdSpec('feed', ['feed'], ['V1'])],
      ['feed'],
    )
    const apart = { ...blind, valves: [valve('V1', ['feed']), valve('V2', ['forward'])] }
    expect(ledger(apart, []).message).toBe(
      '0 of 3 fittings are proven, 3 never held; 1 hold would close all but 1.',
    )
  })
  it('work without a word of the action', () => {
    const [{ proof }] = ledger(plane, [of('both', 0), marked('work', 'F1', 60, {})]).fittings
    expect(proof.why).toBe('It was proven by r0 and since then worked on (work): hold again.')
  })
})

describe('ledger() of allowances and wet stages', () => {
  const dropping = (dropPa: number, holdS: number): System => ({
    ...plane,
    holds: [holdSpec('both', ['feed', 'forward'], [], { allow: { kind: 'drop', dropPa }, holdS })],
  })
  const stateOf = (now: System, then: System) =>
    ledger(now, [{ ...held(then, 'both', 0, 'pass'), system: then } as Evidence]).fittings[0].proof.state
  it('a drop is allowed per second: half of it in half the time is as much, in the same time less', () => {
    expect(stateOf(dropping(500, 300), dropping(1000, 600))).toBe('proven')
    expect(stateOf(dropping(500, 600), dropping(1000, 600))).toBe('stale')
    expect(stateOf(dropping(985, 600), dropping(1000, 600))).toBe('stale')
    expect(stateOf(dropping(995, 600), dropping(1000, 600))).toBe('proven')
  })
  it('the last wet stage counts, in whichever order they are given', () => {
    const wet = (minute: number, passed = true): Evidence => ({
      kind: 'wet',
      record: `w${minute}`,
      timeNs: atMinute(minute),
      passed,
      fittings: ['F1'],
    })
    for (const evidence of [
      [wet(10), wet(90), wet(50)],
      [wet(90), wet(50), wet(10)],
    ])
      expect(ledger(plane, evidence).fittings[0].wet).toMatchObject({ state: 'proven', record: 'w90' })
    expect(ledger(plane, [wet(10, false), wet(90)]).fittings[0].wet?.state).toBe('proven')
  })
})

describe('closingHolds() proves a rig at the highest pressure of its holds', () => {
  it.each([
    [60_000, 30_000, 'first'],
    [30_000, 60_000, 'second'],
  ])('of %d and %d Pa', (first, second, hold) => {
    const rigged = system(
      [...plane.sections, section('hose', { kind: 'rig' })],
      plane.fittings,
      plane.valves,
      [
        holdSpec('feed', ['feed'], ['V1'], { rig: 'hose' }),
        holdSpec('first', ['hose'], [], { pressurePa: first }),
        holdSpec('second', ['hose'], [], { pressurePa: second }),
      ],
    )
    const ready = { plugs: new Set<string>(), rigs: new Set<string>(), places: new Set<string>() }
    expect(closingHolds(rigged, ['F1'], ready).rigs.map(({ isolation }) => isolation.hold)).toEqual([hold])
  })
})

const drips = (value: number, half: number, scc?: number): SectionLeak => {
  const around = (center: number, width: number) => ({
    value: center,
    low: center - width,
    high: center + width,
  })
  return {
    section: 'feed',
    mL_per_min: around(value, half),
    drop_Pa: around(100, 10),
    ...(scc !== undefined && { scc_per_min: { ...around(scc, 0.1), reference: '0 degC' } }),
  } as SectionLeak
}

describe('compareHolds() and subtractRig() of a liquid, and of scc/min beside it', () => {
  const exact = { ...plane, sections: plane.sections.map((one) => ({ ...one, volumeToleranceM3: 0 })) }
  const compared = (before: SectionLeak, after: SectionLeak) => {
    const [a, b] = [held(exact, 'feed', 0, 'fail', [before]), held(exact, 'feed', 60, 'fail', [after])]
    return compareHolds(exact, a.result, b.result, [a, b]).sections[0]
  }
  it('in mL/min: 3 and 4 make 5 (computed by hand)', () => {
    const { unit, change, scc_per_min } = compared(drips(6, 0.3), drips(2, 0.4))
    expect([unit, change.value, scc_per_min]).toEqual(['mL_per_min', -4, null])
    expect(change.high - change.value).toBeCloseTo(0.5, 12)
  })
  it('in scc/min with its reference', () => {
    const { scc_per_min } = compared(drips(6, 0.3, 9), drips(2, 0.4, 4))
    expect(scc_per_min).toMatchObject({
      before: { value: 9 },
      after: { value: 4 },
      change: { value: -5 },
      reference: '0 degC',
    })
  })
  it('of figures without an interval: a change is certain, and so is none', () => {
    expect(
      [compared(drips(6, 0), drips(2, 0)), compared(drips(6, 0), drips(6, 0))].map(({ p_value }) => p_value),
    ).toEqual([0, 1])
  })
  it('the rig is taken off the liquid and off the scc/min', () => {
    const { leak: left } = subtractRig(drips(6, 0.3, 9), drips(2, 0.4, 4), 68_947.57, 68_947.57)!
    expect(left.mL_per_min).toMatchObject({
      value: 4,
      low: expect.closeTo(3.5, 12),
      high: expect.closeTo(4.5, 12),
    })
    expect(left.scc_per_min).toMatchObject({ value: 5, reference: '0 degC' })
    expect(left.mol_per_s).toBeUndefined()
    expect(subtractRig(drips(6, 0.3), leak('hose', 1e-7, 1e-8), 68_947.57, 68_947.57)).toBeNull()
  })
})

describe('the order of evidence', () => {
  it('a mark of a recording and of its record is one mark, that of the record', () => {
    const mark = marked('look', 'F1', 5, { finding: 'dry' })
    const sealed = { ...mark, record: 'r1' } as Evidence
    for (const evidence of [
      [mark, sealed],
      [sealed, mark],
    ])
      expect(marksInOrder(evidence).map(({ record }) => record)).toEqual(['r1'])
  })
  it('a sealed analysis outranks the file of a hold, of two sealed ones the worse counts, of equal ones the later record', () => {
    const counted = (...evidence: HoldEvidence[]) =>
      [evidence, [...evidence].reverse()].map((each) =>
        holdsInOrder(each).map(({ evidence: e }) => [e.record, e.result.verdict]),
      )
    const twice = <T>(one: T) => [one, one]
    expect(counted(of('feed', 0), of('feed', 0, { record: null }, 'fail'))).toEqual(twice([['r0', 'pass']]))
    expect(counted(of('feed', 0), of('feed', 0, { record: 'r1' }, 'fail'))).toEqual(twice([['r1', 'fail']]))
    expect(counted(of('feed', 0), of('feed', 0, { record: 'r1' }))).toEqual(twice([['r1', 'pass']]))
  })
  it('a hold without a vent lasts as long as it was held', () => {
    const hold = held(plane, 'feed', 0, 'fail', null, { result: { seconds: 400 } })
    const open = { ...hold, result: { ...hold.result, stages: { ...hold.result.stages, vent_ns: null } } }
    const [{ startNs, endNs }] = holdsInOrder([open])
    // The hold stage begins five minutes after pump-up.
    expect(Number(endNs - startNs) / 1e9).toBe(300 + 400)
  })
  it('a valve shut or opened in the hold is told as such', () => {
    const told = (isOpen: boolean) =>
      ledger(plane, [
        marked('valve', 'V1', -5, { open: !isOpen }),
        of('feed', 0),
        marked('valve', 'V1', 10, { open: isOpen }),
      ]).fittings[0].proof.why
    expect(told(true)).toContain('Valve V1 was opened during hold feed')
    expect(told(false)).toContain('Valve V1 was shut during hold feed')
  })
})

describe('hunt() uses what it can and says what it ignored', () => {
  const ignored = (...evidence: Evidence[]) => hunt(plane, evidence).ignored
  it.each([
    [
      'a hold that its file lacks',
      held(plane, 'other', 0, 'fail'),
      'session.lp, other',
      'its system file has no hold other',
    ],
    [
      'a void one without a reason',
      held(plane, 'feed', 0, 'void'),
      'session.lp, feed',
      'void: it proves nothing',
    ],
    [
      'an undecided one without a figure',
      held(plane, 'feed', 0, 'undecided'),
      'session.lp, feed',
      'undecided, and without a figure for the leak',
    ],
  ])('%s', (_, evidence, what, why) => {
    expect(ignored(evidence)).toEqual([{ what, why }])
  })
  it('a hold with its valve moved, but not one whose gas reached further than it names', () => {
    const fail = of('feed', 0, {}, 'fail')
    expect(ignored(fail, marked('valve', 'V1', 10, { open: true }))).toEqual([
      { what: 'r0', why: 'Valve V1 was opened during hold feed: hold again without moving the valves.' },
    ])
    expect(ignored(fail, marked('valve', 'V1', -5, { open: true }))).toEqual([])
  })
  it('parts that today is without: their hold is used, with a caution', () => {
    const today = { ...plane, fittings: plane.fittings.slice(2), valves: [] }
    const { cautions, used, fittings, valves } = hunt(today, [
      held(plane, 'feed', 0, 'fail', [leak('feed', 4e-7, 1e-8)], { record: 'r0' }),
      marked('work', 'W1', 30, {}),
    ])
    expect(cautions).toContain('r0 also held F1, F2, which the system no longer has.')
    expect(used.map(({ what }) => what)).toEqual(['feed: fail', 'work at W1: no word'])
    expect(fittings.map(({ id }) => id)).toEqual(['W1'])
    expect(valves).toMatchObject([{ id: 'V1', name: '', between: [] }])
  })
})

it('allowanceOf(a liquid leak) is the gas of the same path: 1 mL/min of fuel is 60/2.095 scc/min (docs/method.md section 9)', () => {
  const [spec] = plane.holds
  const allow = { kind: 'liquid-leak', m3PerS: 1e-6 / 60 } as const
  expect(allowanceOf(plane, { ...spec, allow }) / (60 / 2.095 / 22_413.97 / 60)).toBeCloseTo(1, 4)
})

it('allowanceOf(a drop) is the gas that leaves at 20 °C: 690 Pa of 0.35 L in 600 s are 1.6513e-7 mol/s (pV = nRT)', () => {
  const [spec] = plane.holds
  const allow = { kind: 'drop', dropPa: 690 } as const
  expect(allowanceOf(plane, { ...spec, allow })).toBeCloseTo(
    (690 * 0.35e-3) / (8.314462618 * 293.15 * 600),
    13,
  )
})

it('rateMixture(nothing) is refused, with what it got', () => {
  expect(() => rateMixture(0)).toThrow('allowance must be above 0, got 0')
})

it("torqueRange() takes a fitting's own torque first, which states no joint and no threads", () => {
  const range = torqueRange(fitting('F', 'feed', { size: '-6', material: 'steel', torqueNm: [10, 12] }))!
  expect(range).toEqual({
    lowNm: 10,
    highNm: 12,
    source: 'system file',
    purpose: null,
    threads: null,
    read: true,
  })
  expect(rangeWords(range)).toBe('10.0 to 12.0 N·m, 89 to 106 in·lb (system file)')
})

it('zerosOfHold() reads the zero after the vent only to the next stage', () => {
  const {
    recording,
    system: bench,
    ventS,
    spec,
  } = madeView({
    endS: 900,
    pa: (timeS, quiet) => quiet + (timeS < 400 ? 300 : timeS < 820 ? 700 : 2000),
  })
  const at = (timeS: number) => String(BigInt(recording.startNs) + BigInt(timeS * 1e9))
  const result = { hold: spec.id, stages: { pump_up_ns: at(pumpUpS), vent_ns: at(ventS!) } } as never
  const after = (...marks: readonly (readonly [kind: string, timeS: number])[]) => {
    const stages = marks.map(([kind, timeS]) => ({ kind, timeS, fields: {} }))
    return zerosOfHold({ ...recording, marks: stages } as never, bench, result, 'r1')[0].after_Pa
  }
  expect(Math.abs(after(['stage', ventS!], ['stage', 820])! - 700)).toBeLessThan(3)
  expect(after(['stage', ventS!], ['note', 820])).not.toBeCloseTo(after(['stage', 820])!, -1)
})
