import { describe, expect, it, test } from 'vitest'
import { compareHolds } from '#analysis/hunt/compare.ts'
import { weepAdvice } from '#analysis/hunt/fitting-kinds.ts'
import { hunt } from '#analysis/hunt/hunt.ts'
import { ledger } from '#analysis/hunt/ledger.ts'
import type { Evidence } from '#analysis/model/evidence.ts'
import type { Verdict } from '#analysis/model/hold-result.ts'
import { fitting, held, holdSpec, leak, marked, section, system, valve } from './made-system.ts'

const plane = system(
  [section('feed'), section('forward')],
  [fitting('F1', 'feed'), fitting('F2', 'feed'), fitting('F3', 'forward')],
  [valve('V1', ['feed', 'forward'])],
  [
    holdSpec('feed', ['feed'], ['V1']),
    holdSpec('forward', ['forward'], ['V1']),
    holdSpec('both', ['feed', 'forward'], []),
    holdSpec('soft', ['feed'], ['V1'], { pressurePa: 34_473.79 }),
  ],
)
const hold = (id: string, minute: number, verdict: Verdict, molPerS = 0, std = 1e-8, of = id) =>
  held(plane, id, minute, verdict, [leak(of === 'both' || of === 'soft' ? 'feed' : of, molPerS, std)])
const work = (id: string, minute = 30) => marked('work', id, minute, { action: 'remake' })

describe('weepAdvice() says what to do with each joint, never under pressure (common practice)', () => {
  it.each([
    [
      'pipe-thread',
      {},
      'take it apart, clean both threads and reseal it; turning a sealed thread further breaks the seal',
    ],
    ['drain-valve', {}, 'work the valve, clean its seat, then change the O-ring'],
    [
      'sender-gasket',
      {},
      'remove the sender, clean both faces, fit a new gasket and tighten the screws crosswise',
    ],
    ['cap', {}, 'clean the seat and change the seal; check that the cap closes fully'],
    [
      'clamp',
      {},
      'check that the hose covers the bead and that the clamp sits behind it, then set the clamp',
    ],
    ['other', {}, 'take it apart, look at the sealing faces and remake it'],
    [
      'hose-end',
      {},
      'check that the hose is not twisted and set the nut to its torque; if it still weeps, remake the end',
    ],
    [
      'flare',
      { material: 'steel', size: '-6' },
      'set a steel flare a little tighter within its range, 30.5 to 33.9 N·m, 270 to 300 in·lb (nut on steel tube, threads lubricated, TM 55-1520-240-23-1, 1-13); if it still weeps, take it apart',
    ],
    [
      'flare',
      { material: 'aluminium' },
      'set it to its torque; an aluminium flare that weeps at full torque is taken apart, never forced',
    ],
    [
      'flare',
      {},
      'set it to the torque of its material; an aluminium flare that weeps at full torque is taken apart, never forced',
    ],
  ] as const)('%s %o', (kind, over, advice) => {
    expect(weepAdvice(fitting('F', 'feed', { kind, ...over }))).toBe(
      `Vent first, never tighten under pressure: ${advice}.`,
    )
  })
})

describe('compareHolds() says in one sentence what changed', () => {
  const told = (before: ReturnType<typeof hold>, after: ReturnType<typeof hold>) =>
    compareHolds(plane, before.result, after.result, [before, work('F1'), after])
  it.each([
    [
      'fell',
      hold('feed', 0, 'fail', 6e-7),
      hold('feed', 60, 'fail', 3e-7),
      'The leak of feed fell by about 50 %, but some of it is left.',
    ],
    [
      'fell enough',
      hold('feed', 0, 'fail', 6e-7),
      hold('feed', 60, 'pass', 6e-8),
      'The leak of feed fell by about 90 %, but some of it is left, within the allowance.',
    ],
    [
      'gone, undecided',
      hold('feed', 0, 'fail', 6e-7),
      hold('feed', 60, 'undecided', 0),
      'The leak fell and nothing above zero is left, but the new hold is undecided: only a pass is proof.',
    ],
    [
      'grew',
      hold('feed', 0, 'fail', 3e-7),
      hold('feed', 60, 'fail', 6e-7),
      'The leak of feed grew: the work made it worse, or opened another leak.',
    ],
    [
      'two passes',
      hold('feed', 0, 'pass'),
      hold('feed', 60, 'pass'),
      'No change is shown, and both holds pass.',
    ],
    [
      'no change',
      hold('feed', 0, 'fail', 6e-7),
      hold('feed', 60, 'fail', 6e-7),
      'No change is shown: the work did not reach the leak, or the change is too small to see.',
    ],
    [
      'void',
      hold('feed', 0, 'fail', 6e-7),
      hold('feed', 60, 'void'),
      'One of the two holds is void, so the comparison proves nothing: hold again.',
    ],
    [
      'other sections',
      hold('feed', 0, 'fail', 6e-7),
      hold('forward', 60, 'pass'),
      'The two holds have no measured section in common, so nothing can be compared.',
    ],
  ])('%s', (_, before, after, message) => {
    expect(told(before, after).message).toBe(message)
  })
  it('cautions of holds that differ', () => {
    expect(told(hold('feed', 0, 'fail', 6e-7), hold('forward', 60, 'pass')).cautions).toEqual([
      'The holds differ (feed, forward): they may not cover the same fittings.',
      'forward was not measured in the same way before, so it cannot be compared.',
    ])
    expect(told(hold('soft', 0, 'fail', 3e-7), hold('feed', 60, 'fail', 6e-7)).cautions).toEqual([
      'The holds differ (soft, feed): they may not cover the same fittings.',
      'The holds differ in pressure: the earlier leak is scaled by the laminar law, which is an assumption.',
    ])
    expect(told(hold('feed', 0, 'fail', 6e-7), hold('feed', 60, 'pass')).cautions).toEqual([])
  })
  it('scales the earlier leak by the laminar law: 10 psi drives 2.2908 times as much as 5 psi (p² − p_b², computed)', () => {
    const [{ before, after, change }] = told(
      hold('soft', 0, 'fail', 3e-7),
      hold('feed', 60, 'fail', 6e-7),
    ).sections
    expect(before.value / 3e-7).toBeCloseTo(2.2908, 4)
    expect(change.value).toBeCloseTo(after.value - before.value, 15)
  })
})

describe('ledger() says in one sentence what is proven, and what is open', () => {
  const plug = (state: string, minute = 90) => marked('plug', 'P1', minute, { state })
  const both = hold('both', 0, 'pass')
  it.each<[what: string, evidence: Evidence[], message: string, open: string[]]>([
    ['all proven', [both], 'All 3 fittings are proven and every plug is out.', []],
    [
      'a plug in',
      [both, plug('in')],
      'All 3 fittings are proven, 1 plug still in.',
      ['Plug P1 is still in: take it out and mark it out.'],
    ],
    [
      'a plug taken out',
      [both, plug('in'), plug('out', 95)],
      'All 3 fittings are proven and every plug is out.',
      [],
    ],
    [
      'nothing held',
      [],
      '0 of 3 fittings are proven, 3 never held; 1 hold would close it.',
      [
        'F1, F2 in feed are not proven: no hold has covered it.',
        'F3 in forward is not proven: no hold has covered it.',
      ],
    ],
    [
      'one section held',
      [hold('feed', 0, 'pass')],
      '2 of 3 fittings are proven, 1 never held; 1 hold would close it.',
      ['F3 in forward is not proven: no hold has covered it.'],
    ],
    [
      'work since',
      [both, work('F3')],
      '2 of 3 fittings are proven, 1 stale; 1 hold would close it.',
      ['F3: It was proven by session.lp, both and since then worked on (remake): hold again.'],
    ],
    [
      'a fail',
      [hold('feed', 0, 'fail', 6e-7)],
      '0 of 3 fittings are proven, 2 failed, 1 never held; 1 hold would close it.',
      [
        'F1, F2: A hold that covered it failed: session.lp, feed. Find the leak, work on it and hold again.',
        'F3 in forward is not proven: no hold has covered it.',
      ],
    ],
    [
      'a drip since',
      [both, marked('look', 'F2', 30, { finding: 'drip' })],
      '2 of 3 fittings are proven, 1 failed; 1 hold would close it.',
      ['F2: A look found drip at it. Find the leak, work on it and hold again.'],
    ],
    [
      'work on an unknown joint',
      [both, work('X9')],
      'All 3 fittings are proven, 1 work mark on unknown ids.',
      ['Work is marked on X9, which the system file does not name: correct the mark, or add it to the file.'],
    ],
    [
      'an undecided hold',
      [hold('both', 0, 'undecided')],
      '0 of 3 fittings are proven, 3 never held; 1 hold would close it.',
      [
        'F1, F2 in feed are not proven: held in session.lp, both, but the verdict is undecided.',
        'F3 in forward is not proven: held in session.lp, both, but the verdict is undecided.',
      ],
    ],
    [
      'a hold at half the pressure',
      [hold('soft', 0, 'pass'), hold('forward', 30, 'pass')],
      '1 of 3 fittings are proven, 2 never held; 1 hold would close it.',
      ['F1, F2 in feed are not proven: held at 5 psi in session.lp, soft; it must be held at 10 psi.'],
    ],
  ])('%s', (_, evidence, message, open) => {
    const told = ledger(plane, evidence)
    expect(told.message).toBe(message)
    expect(told.open).toEqual(open)
    expect(told.complete).toBe(open.length === 0)
  })
})

describe('hunt() names its steps', () => {
  const next = (...evidence: Evidence[]) =>
    hunt(plane, evidence).next.map(({ title, why }) => `${title}. ${why}`)
  it('a hold that splits the suspects, and a tour of looks', () => {
    const steps = next(hold('both', 0, 'fail', 6e-7)).join('\n')
    expect(steps).toMatch(
      /Hold (feed|forward)\. It splits the suspects: \d+ % likely to show a leak among its \d fittings?; if it is tight the search continues among \d others?\./,
    )
    expect(steps).toMatch(
      /Look at .*F1.* with soap solution while both is under pressure\. In this order, and stop at the first that bubbles: /,
    )
  })
  it('a second look at a joint that bubbled once, and work on one that bubbled twice', () => {
    const bubbles = (minute: number) => marked('look', 'F1', minute, { finding: 'bubbles' })
    expect(next(hold('feed', 0, 'fail', 6e-7), bubbles(6))[0]).toMatch(
      /^(Wipe F1 and look at it again with soap solution while \w+ is under pressure\. A leak was seen at it while the hold failed \(.*% likely\)\. If it bubbles again, work on it\.|Work on F1, mark it, and hold feed again\. )/,
    )
    expect(next(hold('feed', 0, 'fail', 6e-7), bubbles(6), bubbles(8))[0]).toMatch(
      /^Work on F1, mark it, and hold feed again\. A leak was seen at it while the hold failed\. Vent first/,
    )
  })
})

test('holds of one section at overlapping times are told: their order is unknown', () => {
  const { cautions } = ledger(plane, [hold('feed', 0, 'pass'), hold('both', 10, 'pass')])
  expect(cautions).toContain(
    'session.lp and session.lp hold feed + forward at the same time by their clocks: their order is unknown, so nothing shows what they prove.',
  )
})

describe('hunt() names the stops of a look', () => {
  const title = (count: number): string => {
    const ids = Array.from({ length: count }, (_, n) => `F${n + 1}`)
    const line = system(
      [section('feed')],
      ids.map((id) => fitting(id, 'feed')),
      [],
      [holdSpec('feed', ['feed'], [])],
    )
    const { next } = hunt(line, [held(line, 'feed', 0, 'fail', [leak('feed', 4e-7, 1e-8)])])
    return next.find(({ kind }) => kind === 'look')!.title
  }
  it('all of up to four, the first three of more', () => {
    // The section's own hose, seams and walls are a stop as well.
    const more = [3, 4, 5].map((count) => / and (\d) more /.exec(title(count))?.[1])
    expect(more).toEqual([undefined, '2', '3'])
    expect(title(3)).toContain('F1, F2, F3 and hose, seams and walls of feed')
  })
})
