import { expect, it } from 'vitest'
import { hunt } from '#analysis/hunt/hunt.ts'
import { ledger } from '#analysis/hunt/ledger.ts'
import type { Evidence } from '#analysis/model/evidence.ts'
import { holdCoverage } from '#analysis/model/system-graph.ts'
import { campaign } from '#analysis/plan/campaign.ts'
import {
  atMinute,
  fitting,
  held,
  holdSpec,
  leak,
  marked,
  section,
  system,
  valve,
} from '../hunt/made-system.ts'

const sections = ['left', 'right', 'feed', 'forward']
const plane = system(
  sections.map((id) => section(id)),
  sections.flatMap((id) => [1, 2, 3, 4].map((n) => fitting(`${id}${n}`, id))),
  [
    valve('V1', ['left', 'feed']),
    valve('V2', ['right', 'feed']),
    valve('V3', ['feed', 'forward']),
    valve('V4', ['forward'], 'cap'),
  ],
  [
    holdSpec('left', ['left'], ['V1']),
    holdSpec('right', ['right'], ['V2']),
    holdSpec('feed', ['feed'], ['V1', 'V2', 'V3']),
    holdSpec('forward', ['forward'], ['V3', 'V4']),
  ],
)

it('a season of jobs by the campaign and the hunt ends with a true ledger, every leak found and mended (simulated)', () => {
  const evidence: Evidence[] = []
  const leaking = new Set(['left2', 'feed4'])
  const mended: string[] = []
  // Job, and the joint that it leaves leaking.
  const jobs = [
    ['forward1', 'forward1'],
    ['right3', null],
    ['feed2', 'feed2'],
    ['left4', null],
    ['right1', 'right1'],
  ] as const
  let minute = 0
  let holds = 0
  for (const [on, opens] of [[null, null], ...jobs] as const) {
    minute += 60
    if (on !== null) evidence.push(marked('work', on, minute, { action: 'remake' }))
    if (opens !== null) leaking.add(opens)
    for (let turn = 0; turn < 40; turn++) {
      const plan = campaign(plane, evidence, { nowNs: BigInt(atMinute(minute + 60)) })
      const step = plan.steps[0]
      if (step === undefined) break
      if (step.kind === 'plugs-out') {
        for (const id of step.plugs) evidence.push(marked('plug', id, ++minute, { state: 'out' }))
        continue
      }
      minute += 60
      holds++
      const spec = plane.holds.find(({ id }) => id === step.hold)!
      const bad = holdCoverage(plane, spec).covered.filter((id) => leaking.has(id))
      evidence.push(
        held(
          plane,
          spec.id,
          minute,
          bad.length > 0 ? 'fail' : 'pass',
          [leak(spec.sections[0], 5e-7 * bad.length, 1e-8)],
          {
            record: `${holds}`,
          },
        ),
      )
      if (bad.length === 0) continue
      // Under pressure each joint of the section is looked at, in the order of the hunt.
      const order = hunt(plane, evidence).fittings.filter((f) => spec.sections.includes(f.section))
      order.forEach(({ id }, i) => {
        evidence.push(marked('look', id, minute + 6 + i, { finding: leaking.has(id) ? 'bubbles' : 'dry' }))
      })
      const [first] = hunt(plane, evidence).next
      expect(bad).toContain(first.fittings[0])
      minute += 30
      leaking.delete(first.fittings[0])
      mended.push(first.fittings[0])
      evidence.push(marked('work', first.fittings[0], minute, { action: 'remake' }))
    }
    const state = ledger(plane, evidence)
    expect({ complete: state.complete, leaking: [...leaking] }).toEqual({ complete: true, leaking: [] })
  }
  expect(mended.sort()).toEqual(['feed2', 'feed4', 'forward1', 'left2', 'right1'])
  // An ideal searcher holds each section once, each job's section once, and once more for each leak: 4 + 5 + 5.
  expect(holds).toBeLessThanOrEqual(14)
}, 60_000)
