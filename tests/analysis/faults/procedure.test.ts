import { describe, expect, it } from 'vitest'
import { procedureFaults, sealantCuring } from '#analysis/faults/procedure.ts'
import { clockFaults, recordingDamage } from '#analysis/faults/sampling.ts'
import type { Mark, Recording } from '#analysis/model/samples.ts'
import type { HoldSpec, System } from '#analysis/model/system.ts'
import type { HoldStages } from '#analysis/stages/stages-from-pressure.ts'
import { fitting, holdSpec, section, system, valve } from '../hunt/made-system.ts'
import { madeView, toldBy } from './made-hold.ts'

const bench = system(
  [section('line'), section('beyond'), section('far')],
  [fitting('F1', 'line'), fitting('F2', 'line'), fitting('F9', 'beyond')],
  [
    { ...valve('V1', ['line', 'beyond']), name: 'fuel valve' },
    valve('V8', ['beyond', 'far']),
    valve('G1', ['line'], 'gauge-cock'),
  ],
  [holdSpec('hold', ['line'], ['V1'], { settleS: 100 })],
)
const [spec] = bench.holds
/** Pumped up at 60 s, held from 170 s to 770 s. */
const stages: HoldStages = {
  spec,
  source: 'marks',
  pumpUpS: 60,
  settleS: 70,
  holdS: 170,
  ventS: 770,
  endS: 830,
}
const mark = (
  kind: Mark['kind'],
  timeS: number,
  id: string | null = null,
  fields: Mark['fields'] = {},
): Mark => ({ timeNs: '0', timeS, kind, id, hold: null, fields })
const valveAt = (id: string | null, timeS: number, open: boolean | string): Mark =>
  mark('valve', timeS, id, { open })
const recordingOf = (marks: readonly Mark[], over: Partial<Recording> = {}): Recording =>
  ({ name: 'made.lp', startNs: '0', channels: [], marks, ...over }) as Recording
const procedure = (marks: readonly Mark[], over: Partial<HoldStages> = {}, of: System = bench): unknown[] =>
  toldBy(procedureFaults(recordingOf(marks), of, { ...stages, ...over }))
const withSpec = (over: Partial<HoldSpec>): Partial<HoldStages> => ({ spec: { ...spec, ...over } })

type Row = readonly [what: string, found: unknown[], told: unknown[]]

const remake = { action: 'remake' }
const underWork = (code: string, on: string) => [
  code === 'work-during-hold' ? 'void' : 'caution',
  code,
  { fitting: on, action: 'remake' },
]
const moved = (on: string, how: string, known = true) => ['void', 'valve-moved', { valve: on, how, known }]
const open = ['void', 'valve-open', { valve: 'V1', name: 'fuel valve' }]
const early = (seconds: number, why = '') => ['caution', 'ended-early', { seconds, stated_s: 600, why }]

const work: readonly Row[] = [
  [
    'after the start of the hold',
    procedure([mark('work', 171, 'F1', remake)]),
    [underWork('work-during-hold', 'F1')],
  ],
  ['at its start', procedure([mark('work', 170, 'F1', remake)]), [underWork('work-under-pressure', 'F1')]],
  ['after pump-up', procedure([mark('work', 61, 'F1', remake)]), [underWork('work-under-pressure', 'F1')]],
  ['at pump-up', procedure([mark('work', 60, 'F1', remake)]), []],
  [
    'before the settle that begins an unmarked pump-up',
    procedure([mark('work', 65, 'F1', remake)], { pumpUpS: null }),
    [],
  ],
  ['before the vent', procedure([mark('work', 769, 'F1', remake)]), [underWork('work-during-hold', 'F1')]],
  ['at the vent', procedure([mark('work', 770, 'F1', remake)]), []],
  [
    'in a hold that still runs',
    procedure([mark('work', 820, 'F1', remake)], { ventS: null }),
    [underWork('work-during-hold', 'F1')],
  ],
  [
    'on a joint of another section',
    procedure([mark('work', 300, 'F9', remake), mark('work', 100, 'F9', remake)]),
    [],
  ],
  [
    'on a joint that the file lacks',
    procedure([mark('work', 300, 'X', remake)]),
    [underWork('work-during-hold', 'X')],
  ],
  [
    'on nothing, without a word',
    procedure([mark('work', 300)]),
    [['void', 'work-during-hold', { fitting: '', action: 'work' }]],
  ],
  ['before any hold', procedure([mark('work', 300, 'F1', remake)], { holdS: null }), []],
]

const looks: readonly Row[] = [
  [
    'twice at one joint, once at another and at none',
    procedure(
      [300, 310]
        .map((at) => mark('look', at, 'F1', { finding: 'bubbles' }))
        .concat(mark('look', 320, 'F2', { finding: 'drip' }), mark('look', 330, null, { finding: 'seep' })),
    ),
    [['caution', 'leak-seen', { fittings: ['F1', 'F2', ''] }]],
  ],
  [
    'after pump-up',
    procedure([mark('look', 61, 'F1', { finding: 'seep' })]),
    [['caution', 'leak-seen', { fittings: ['F1'] }]],
  ],
  ['at pump-up', procedure([mark('look', 60, 'F1', { finding: 'seep' })]), []],
  ['at the vent', procedure([mark('look', 770, 'F1', { finding: 'seep' })]), []],
  ['a stain', procedure([mark('look', 300, 'F1', { finding: 'stain' })]), []],
  ['bubbles elsewhere', procedure([mark('look', 300, 'F9', { finding: 'bubbles' })]), []],
]

const valves: readonly Row[] = [
  ['opened in the hold', procedure([valveAt('V1', 300, true)]), [moved('V1', 'opened')]],
  ['opened at its start', procedure([valveAt('V1', 170, true)]), [open]],
  ['opened before and not shut', procedure([valveAt('V1', 100, true)]), [open]],
  ['opened and shut again before', procedure([valveAt('V1', 100, true), valveAt('V1', 160, false)]), []],
  [
    'opened before and shut in the hold',
    procedure([valveAt('V1', 100, true), valveAt('V1', 300, false)]),
    [moved('V1', 'shut')],
  ],
  [
    'shut in the hold, of which nobody said anything before',
    procedure([valveAt('V1', 300, false)]),
    [moved('V1', 'shut-late')],
  ],
  [
    'said to be shut before and in the hold',
    procedure([valveAt('V1', 100, false), valveAt('V1', 300, false)]),
    [],
  ],
  ['opened at the vent', procedure([valveAt('V1', 770, true)]), []],
  ['open 12 hours before pump-up', procedure([valveAt('V1', 60 - 12 * 3600, true)]), [open]],
  ['open a second earlier than that', procedure([valveAt('V1', 59 - 12 * 3600, true)]), []],
  ['of another room, moved in the hold', procedure([valveAt('V8', 300, true)]), []],
  [
    'not in the file, moved in the hold',
    procedure([valveAt('V9', 300, true)]),
    [moved('V9', 'opened', false)],
  ],
  ['without a name, moved in the hold', procedure([valveAt(null, 300, false)]), [moved('', 'shut', false)]],
  ['not in the file, moved before the hold', procedure([valveAt('V9', 100, true)]), []],
  ['of which the mark says neither', procedure([valveAt('V1', 300, 'half')]), []],
  [
    'the cock of the gauge shut before',
    procedure([valveAt('G1', 100, false)]),
    [['void', 'gauge-cock-shut', { valve: 'G1' }]],
  ],
  ['the cock shut and opened before', procedure([valveAt('G1', 100, false), valveAt('G1', 110, true)]), []],
  ['the cock shut in the hold', procedure([valveAt('G1', 300, false)]), [moved('G1', 'shut')]],
  [
    'none of them, of a hold that leaves one open',
    procedure([], withSpec({ shut: ['V8'] })),
    [['caution', 'not-closed', { detail: expect.stringMatching(/gas reaches beyond/) }]],
  ],
  [
    'none of them, of a hold with an opening',
    procedure([], {}, { ...bench, valves: [...bench.valves, valve('C1', ['line'], 'cap')] }),
    [['caution', 'open-to-outside', { detail: expect.stringMatching(/line is open to the air/) }]],
  ],
]

const times: readonly Row[] = [
  [
    'a plug moved',
    procedure([mark('plug', 300, 'P1'), mark('plug', 310)]),
    [
      ['void', 'plug-moved', { plug: 'P1' }],
      ['void', 'plug-moved', { plug: '' }],
    ],
  ],
  ['a plug moved at the start', procedure([mark('plug', 170, 'P1')]), []],
  [
    'a settle of 89 s of 100',
    procedure([], { settleS: 81 }),
    [['caution', 'settle-shortened', { seconds: 89, stated_s: 100 }]],
  ],
  ['the same, found in the pressure', procedure([], { settleS: 81, source: 'pressure' }), []],
  ['no settle', procedure([], { settleS: null }), []],
  [
    'a vent after 500 s, with a reason',
    procedure(
      [
        mark('stage', 669, null, { name: 'vent', reason: 'no' }),
        mark('note', 670, null, { name: 'vent', reason: 'no' }),
        mark('stage', 670, null, { name: 'vent', reason: 'rain' }),
      ],
      { ventS: 670 },
    ),
    [early(500, 'rain')],
  ],
  [
    'a vent after 500 s, without',
    procedure([mark('stage', 670, null, { name: 'hold', reason: 'rain' })], { ventS: 670 }),
    [early(500)],
  ],
  ['the same, found in the pressure', procedure([], { ventS: 670, source: 'pressure' }), []],
  [
    'the same, of a hold until it is decided',
    procedure([], { ventS: 670, ...withSpec({ time: 'until-decided' }) }),
    [],
  ],
  ['no vent', procedure([], { ventS: null }), []],
  ...(['interrupted', 'pressure-lost'] as const).map(
    (code): Row => [
      `${code} from pump-up to the vent`,
      procedure([59, 60, 770, 771].map((at) => mark('fault', at, null, { code, text: `at ${at}` }))),
      [
        ['void', code, { why: 'at 60' }],
        ['void', code, { why: 'at 770' }],
      ],
    ],
  ),
  [
    'an interruption without a word',
    procedure([mark('fault', 300, null, { code: 'interrupted' })]),
    [['void', 'interrupted', { why: '' }]],
  ],
  ['another fault', procedure([mark('fault', 300, null, { code: 'low-battery' })]), []],
  ['a note about one', procedure([mark('note', 300, null, { code: 'interrupted' })]), []],
]

describe('procedureFaults(marks) tells what was done and leaves the rest untold', () => {
  describe.each([
    ['work', work],
    ['a look', looks],
    ['a valve', valves],
    ['', times],
  ])('%s', (_, rows) => {
    it.each(rows)('%s', (__, found, told) => {
      expect(found).toEqual(told)
    })
  })
})

describe('sealantCuring() of a hold from 170 s on', () => {
  const curing = (timeS: number, cure: string | undefined, id = 'F1') => {
    const view = {
      ...madeView({ marks: [{ kind: 'work', id, timeS, fields: { cure } as never }] }),
      system: bench,
    }
    return toldBy(sealantCuring(view))
  }
  const blocks = (seconds: number | null) => [['blocks', 'sealant-curing', { fitting: 'F1', seconds }]]
  it('bars the pass by the seconds that are left, and not once they are over', () => {
    expect(curing(100, '71 s')).toEqual(blocks(1))
    expect(curing(100, '70 s')).toEqual([])
    expect(curing(169, '1 min')).toEqual(blocks(59))
    expect(curing(170, '1 min')).toEqual([])
  })
  it('bars it by a time that nobody can read, and not by the work of another section or without a time', () => {
    expect(curing(100, 'a day')).toEqual(blocks(null))
    expect(curing(100, '1 h', 'F9')).toEqual([])
    expect(curing(100, undefined)).toEqual([])
  })
})

describe('clockFaults() of a hold pumped up at 60 s, settled from 70 s and vented at 770 s', () => {
  const clock = (over: Partial<Recording>, at: Partial<HoldStages> = {}) =>
    toldBy(clockFaults(recordingOf(over.marks ?? [], over), { ...stages, ...at }))
  const marked = (timeS: number, fields: Mark['fields'] = {}) =>
    clock({ marks: [mark('clock', timeS, null, fields)] })
  const jumped = (timeS: number, seconds: number) => clock({ clockJumps: [{ timeS, seconds }] })
  const set = (values: object) => [['void', 'clock-jumped', values]]
  it('is void by a mark from pump-up to vent', () => {
    expect([59, 60, 770, 771].map((timeS) => marked(timeS).length)).toEqual([0, 1, 1, 0])
    expect(marked(300)).toEqual(set({ how: 'set' }))
    expect(marked(300, { fast_percent: 3 })).toEqual(set({ how: 'fast', share: 0.03 }))
  })
  it('is void by a jump from pump-up to vent, and by one that left the hold or its settle', () => {
    expect([59, 60, 770, 771].map((timeS) => jumped(timeS, -5).length)).toEqual([0, 1, 1, 0])
    expect(jumped(300, -40)).toEqual(set({ how: 'set', seconds: 40 }))
    // Backward from 70 s or from 770 s.
    expect(
      [jumped(50, -19), jumped(50, -20), jumped(800, 30), jumped(800, 29)].map(({ length }) => length),
    ).toEqual([0, 1, 1, 0])
  })
  it('counts from the settle or the hold where nothing earlier is known', () => {
    const from = (at: Partial<HoldStages>) =>
      [69, 70, 169, 170].map((timeS) => clock({ marks: [mark('clock', timeS)] }, at).length)
    expect(from({ pumpUpS: null })).toEqual([0, 1, 1, 1])
    expect(from({ pumpUpS: null, settleS: null })).toEqual([0, 0, 0, 1])
    expect(clock({ marks: [mark('clock', 10)] }, { pumpUpS: null, settleS: null, holdS: null })).toHaveLength(
      1,
    )
    expect(clock({ marks: [mark('clock', 800)] }, { ventS: null })).toHaveLength(1)
  })
})

it('recordingDamage() bars the pass by a line that cannot be read before the vent at 770 s', () => {
  const damaged = (afterS: number, ventS: number | null = 770) => {
    const view = madeView()
    return toldBy(
      recordingDamage({
        ...view,
        ventS,
        recording: { ...view.recording, damage: { line: 7, lines: 2, afterS } as never },
      }),
    )
  }
  expect(damaged(769)).toEqual([['blocks', 'recording-damaged', { line: 7, lines: 2 }]])
  expect(damaged(770)).toEqual([])
  expect([damaged(800, null), damaged(830, null)].map(({ length }) => length)).toEqual([1, 0])
  expect(toldBy(recordingDamage(madeView()))).toEqual([])
})
