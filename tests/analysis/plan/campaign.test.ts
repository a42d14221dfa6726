import fc from 'fast-check'
import { describe, expect, it } from 'vitest'
import { hunt } from '#analysis/hunt/hunt.ts'
import type { Evidence } from '#analysis/model/evidence.ts'
import type { HoldSpec, System } from '#analysis/model/system.ts'
import { campaign } from '#analysis/plan/campaign.ts'
import { atMinute, fitting, held, holdSpec, marked, section, system, valve } from '../hunt/made-system.ts'

const nowNs = BigInt(atMinute(0))
const psi = 6894.757293

/** An invented aircraft in one row. */
interface Row {
  /** `left 5`: a section with so many fittings. */
  readonly sections: string
  /** `left-feed`: a valve between two sections; `feed`: a cap to the open air. */
  readonly joints: string
  /** `left 15+20`: sections with settle and hold, [min]; `@5` at 5 psi instead of 10. */
  readonly holds: string
  /** Settle and hold of the rig alone, [min]. */
  readonly rig?: string
}

const list = (text: string): string[] => text.split(', ')
const minutesOf = (text: string): [number, number] => text.split('+').map(Number) as [number, number]

function aircraft({ sections, joints, holds, rig }: Row): System {
  const named = list(sections).map((text) => text.split(' '))
  const valves = list(joints).map((text, i) => {
    const ends = text.split('-')
    return valve(`V${i}`, ends, ends.length === 1 ? 'cap' : 'shut-off')
  })
  const specs = list(holds).map((text, i) => {
    const [over, times, at = '10'] = text.split(/ |@/)
    const inside = over.split('&')
    const shut = valves.filter(
      (v) =>
        v.between.some((s) => inside.includes(s)) &&
        !v.between.every((s) => inside.includes(s) && v.between.length > 1),
    )
    const [settle, hold] = minutesOf(times)
    return holdSpec(
      `H${i}`,
      inside,
      shut.map((v) => v.id),
      { settleS: 60 * settle, holdS: 60 * hold, pressurePa: Number(at) * psi },
    )
  })
  const hose = rig === undefined ? [] : [section('hose', { kind: 'rig' })]
  const [settle, hold] = minutesOf(rig ?? '0+0')
  const alone =
    rig === undefined ? [] : [holdSpec('hose', ['hose'], [], { settleS: 60 * settle, holdS: 60 * hold })]
  return system(
    [...named.map(([id]) => section(id)), ...hose],
    named.flatMap(([id, count]) => Array.from({ length: Number(count) }, (_, i) => fitting(`${id}${i}`, id))),
    valves,
    [...specs, ...alone],
  )
}

const invented: Readonly<Record<string, Row>> = {
  'two tanks on a selector': {
    sections: 'left 5, right 5, feed 7, forward 4',
    joints: 'left-feed, right-feed, feed-forward, forward',
    holds: 'left 15+20, right 15+20, feed 3+10, forward 3+10, feed&forward 3+10',
    rig: '2+5',
  },
  'one header tank': {
    sections: 'header 4, feed 3, forward 3',
    joints: 'header-feed, feed-forward, forward',
    holds: 'header 10+15, feed 3+10, forward 3+10',
  },
  'all in one hold': {
    sections: 'tank 3, line 4, engine 2',
    joints: 'tank-line, line-engine, engine',
    holds: 'tank 15+20, line 3+10, engine 3+10, tank&line&engine 15+20',
    rig: '1+5',
  },
  'the long hold does not pay': {
    sections: 'tank 3, line 4',
    joints: 'tank-line',
    holds: 'tank 5+5, line 2+5, tank&line 20+40',
  },
  'pairs that overlap': {
    sections: 'a 1, b 1, c 1, d 1',
    joints: 'a-b, b-c, c-d',
    holds: 'a&b 2+9, b&c 2+5, c&d 2+9, a 2+5, d 2+5',
  },
  'greedy is led astray': {
    sections: 'a 2, b 2, c 2, d 2, e 2, f 2',
    joints: 'a-b, b-c, c-d, d-e, e-f',
    holds: 'b&c&d&e 3+10, a&b&c 3+10, d&e&f 3+10, a 3+10, f 3+10',
  },
  'two caps save a hold': {
    sections: 'feed 2, pump 2',
    joints: 'feed-pump, feed, pump',
    holds: 'feed 2+8, pump 2+8, feed&pump 2+8',
  },
  'a cap costs more than it saves': {
    sections: 'feed 2, pump 2, rail 1',
    joints: 'feed-pump, pump-rail, rail, rail, rail',
    holds: 'feed&pump 2+8, rail 2+8, feed&pump&rail 2+9',
  },
  'tip tanks': {
    sections: 'ltip 3, rtip 3, lmain 4, rmain 4, feed 6',
    joints: 'ltip-lmain, rtip-rmain, lmain-feed, rmain-feed, feed',
    holds:
      'ltip 10+20@1, rtip 10+20@1, lmain 10+20@1, rmain 10+20@1, ltip&lmain 15+20@1, rtip&rmain 15+20@1, feed 3+10',
    rig: '2+5',
  },
  'return line': {
    sections: 'tank 4, supply 5, return 5',
    joints: 'tank-supply, supply-return, return-tank',
    holds: 'tank 10+15@1, supply 3+10, return 3+10, supply&return 3+10',
  },
  'four tanks': {
    sections: 'a 3, b 3, c 3, d 3, feed 8',
    joints: 'a-feed, b-feed, c-feed, d-feed, feed',
    holds: 'a 10+20, b 10+20, c 10+20, d 10+20, feed 3+10, a&b&c&d&feed 20+40',
  },
  'sections at two pressures': {
    sections: 'tank 2, line 3',
    joints: 'tank-line',
    holds: 'tank 10+20@1, line 3+10@10',
  },
  'one section': { sections: 'all 9', joints: 'all', holds: 'all 3+10', rig: '2+3' },
  'the same twice': { sections: 'feed 3', joints: 'feed', holds: 'feed 5+15, feed 3+10' },
  'transfer pump': {
    sections: 'aux 4, main 5, feed 4, forward 3',
    joints: 'aux-main, main-feed, feed-forward, forward',
    holds: 'aux 10+15, main 10+15, aux&main 12+20, feed&forward 3+10, feed 2+8, forward 2+8',
  },
  'chain of six': {
    sections: 'a 1, b 1, c 1, d 1, e 1, f 1',
    joints: 'a-b, b-c, c-d, d-e, e-f',
    holds: 'a&b 3+10, c&d 3+10, e&f 3+10, b&c 3+10, d&e 3+10, a 3+10, f 3+10',
  },
  'star of five': {
    sections: 'hub 5, a 1, b 1, c 1, d 1',
    joints: 'hub-a, hub-b, hub-c, hub-d',
    holds: 'hub 3+10, hub&a 3+11, hub&b 3+11, hub&c 3+11, hub&d 3+11, a 2+6, b 2+6, c 2+6, d 2+6',
  },
  'small engine': {
    sections: 'tank 3, pump 2, carb 2',
    joints: 'tank-pump, pump-carb, carb',
    holds: 'tank&pump&carb 5+10, pump&carb 3+5, tank 5+10',
    rig: '1+2',
  },
  'left and right feeds': {
    sections: 'ltank 4, lfeed 5, rtank 4, rfeed 5, cross 2',
    joints: 'ltank-lfeed, rtank-rfeed, lfeed-cross, cross-rfeed, lfeed, rfeed',
    holds:
      'ltank 10+20@1, rtank 10+20@1, lfeed 3+10, rfeed 3+10, cross 3+10, lfeed&cross 3+10, cross&rfeed 3+10, lfeed&cross&rfeed 4+15',
  },
  'ferry tank': {
    sections: 'ferry 6, main 4, feed 4',
    joints: 'ferry-main, main-feed, ferry, feed',
    holds: 'ferry 15+30@1, main 10+20@1, ferry&main 20+30@1, feed 3+10',
  },
}

/** Least time of all choices of holds, from the rows alone: 3 min of handling each, 2 min a cap, the rig once, [min]. */
function optimum(of: System, open: readonly string[]): number {
  const holds = of.holds.filter((h) => h.id !== 'hose')
  const highest = (s: string): number =>
    Math.max(...holds.filter((h) => h.sections.includes(s)).map((h) => h.pressurePa))
  const proves = holds.map((h) =>
    of.fittings
      .filter((f) => h.sections.includes(f.section) && h.pressurePa >= highest(f.section))
      .map((f) => f.id),
  )
  const alone = of.holds.find((h) => h.id === 'hose')
  let least = Number.POSITIVE_INFINITY
  for (let mask = 0; mask < 2 ** holds.length; mask++) {
    const picked = holds.filter((_, i) => (mask >> i) & 1)
    const proven = new Set(proves.flatMap((p, i) => ((mask >> i) & 1 ? p : [])))
    if (!open.every((id) => proven.has(id))) continue
    const caps = new Set(
      picked.flatMap((h) => h.shut.filter((id) => of.valves.find((v) => v.id === id)!.between.length === 1)),
    )
    const rig = alone && picked.length > 0 ? 180 + alone.settleS + alone.holdS : 0
    least = Math.min(
      least,
      picked.reduce((sum, h) => sum + 180 + h.settleS + h.holdS, rig + 120 * caps.size) / 60,
    )
  }
  return least
}

/** A tree of sections with caps, and holds over connected parts of it, the single sections among them. */
const randomRow: fc.Arbitrary<Row> = fc
  .record({
    parents: fc.array(fc.nat(), { minLength: 2, maxLength: 6 }),
    counts: fc.array(fc.integer({ min: 1, max: 6 }), { minLength: 7, maxLength: 7 }),
    capped: fc.array(fc.boolean(), { minLength: 7, maxLength: 7 }),
    times: fc.array(fc.tuple(fc.integer({ min: 2, max: 15 }), fc.integer({ min: 5, max: 20 })), {
      minLength: 12,
      maxLength: 12,
    }),
    joined: fc.array(fc.nat(), { maxLength: 4 }),
    rig: fc.option(fc.constant('2+5'), { nil: undefined }),
  })
  .map(({ parents, counts, capped, times, joined, rig }) => {
    const ids = [...'abcdefg'].slice(0, parents.length + 1)
    const edges = parents.map((p, i) => `${ids[p % (i + 1)]}-${ids[i + 1]}`)
    const spans = [...ids, ...joined.map((j) => edges[j % edges.length].replace('-', '&'))]
    return {
      sections: ids.map((id, i) => `${id} ${counts[i]}`).join(', '),
      joints: [...edges, ...ids.filter((_, i) => capped[i])].join(', '),
      holds: spans.map((over, i) => `${over} ${times[i].join('+')}`).join(', '),
      rig,
    }
  })

describe('campaign()', () => {
  it.each(Object.entries(invented))(
    'takes the least time of every choice of holds: %s (tried one by one)',
    (_, row) => {
      const of = aircraft(row)
      const plan = campaign(of, [], { nowNs })
      expect(plan.exact).toBe(true)
      expect(plan.minutes).toBeCloseTo(
        optimum(
          of,
          of.fittings.map((f) => f.id),
        ),
        6,
      )
      expect(plan.bound_minutes).toBeCloseTo(plan.minutes, 6)
    },
  )

  it('takes the least time on 20 random aircraft, whatever is proven already (tried one by one)', () => {
    fc.assert(
      fc.property(randomRow, fc.nat(), (row, first) => {
        const of = aircraft(row)
        const own = of.holds.filter((h) => h.id !== 'hose')
        const past = held(of, own[first % own.length].id, -3000, 'pass', null, { record: 'past' })
        const evidence = [past, ...of.valves.map((v) => marked('plug', v.id, -2900, { state: 'out' }))]
        const plan = campaign(of, evidence, { nowNs })
        const proven = new Set(plan.done.flatMap((d) => d.proves))
        const open = of.fittings.filter((f) => !proven.has(f.id)).map((f) => f.id)
        expect(proven.size).toBeGreaterThan(0)
        expect(plan.minutes).toBeCloseTo(optimum(of, open), 6)
      }),
      { numRuns: 20 },
    )
  })

  it('covers every open fitting, presses no section beyond its limit and repeats nothing proven (law)', () => {
    fc.assert(
      fc.property(
        randomRow,
        fc.array(fc.integer({ min: 5, max: 20 }), { minLength: 7, maxLength: 7 }),
        fc.nat(),
        (row, limits, first) => {
          const made = aircraft(row)
          const sections = made.sections.map((s, i) => ({ ...s, maxPressurePa: (limits[i] ?? 20) * psi }))
          const of = { ...made, sections }
          const evidence = [
            held(of, of.holds[first % of.holds.length].id, -30, 'pass', null, { record: 'past' }),
          ]
          const plan = campaign(of, evidence, { nowNs })
          const proven = new Set(plan.done.flatMap((d) => d.proves))
          const covered = plan.steps.flatMap((s) => s.proves)
          for (const { id } of of.fittings)
            expect(
              [proven.has(id), covered.includes(id), plan.uncoverable.some((u) => u.id === id)].filter(
                Boolean,
              ),
            ).toHaveLength(1)
          for (const step of plan.steps)
            for (const s of step.sections)
              expect(step.pressure_Pa ?? 0).toBeLessThanOrEqual(
                sections.find(({ id }) => id === s)!.maxPressurePa,
              )
          expect(plan.steps.every((s) => s.kind !== 'hold' || s.proves.length > 0)).toBe(true)
        },
      ),
    )
  })

  it('states a lower bound where it cannot try everything, and stays within the gap to it (law)', () => {
    const ids = Array.from({ length: 40 }, (_, i) => `s${i}`)
    const holds = Array.from(
      { length: 160 },
      (_, i) =>
        `${ids[(i * 7) % 40]}&${ids[(i * 11 + 3) % 40]}&${ids[(i * 17 + 5) % 40]} ${3 + (i % 5)}+${10 + (i % 7)}`,
    )
    const row = {
      sections: ids.map((id) => `${id} 1`).join(', '),
      joints: ids.map((id) => `${id}-hub`).join(', '),
      holds: holds.join(', '),
    }
    // Every section has its own valve to a hub that no hold names, so that any three may be held side by side.
    const plan = campaign(aircraft({ ...row, sections: `${row.sections}, hub 0` }), [], { nowNs })
    expect(plan.uncoverable).toEqual([])
    expect(plan.bound_minutes).toBeGreaterThan(0)
    expect(plan.bound_minutes).toBeLessThanOrEqual(plan.minutes)
    expect(plan.minutes / plan.bound_minutes).toBeLessThan(1.7)
  }, 60_000)

  /** Least time of every choice of holds, places of the one gauge and order of the set-ups: 3 min each move, [min]. */
  function optimumWithOneGauge(of: System, sits: string | null): number {
    const rig = of.holds.find((h) => h.id === 'hose')
    const holds = of.holds.filter((h) => h.id !== 'hose')
    let least = Number.POSITIVE_INFINITY
    const walk = (made: readonly HoldSpec[], at: string | null, seconds: number): void => {
      if (seconds >= least) return
      const proven = new Set(made.flatMap((h) => h.sections))
      if (of.fittings.every((f) => f.section === 'hose' || proven.has(f.section))) least = seconds
      for (const hold of holds.filter((h) => !made.includes(h)))
        for (const place of hold.sections) walk([...made, hold], place, seconds + cost(hold, at, place))
    }
    const cost = (hold: HoldSpec, at: string | null, place: string): number =>
      180 + hold.settleS + hold.holdS + (at === place ? 0 : 180)
    if (rig) walk([], 'hose', cost(rig, sits, 'hose'))
    else walk([], sits, 0)
    return least / 60
  }

  it('moves one gauge from port to port in the least time of every order of holds and places (30 random aircraft)', () => {
    fc.assert(
      fc.property(randomRow, fc.nat(), fc.boolean(), (row, first, isSitting) => {
        const made = aircraft(row)
        const places = made.sections.map(({ id }) => id).slice(0, 5)
        const few = made.holds.filter(
          (h) => h.id === 'hose' || h.sections.every((s) => places.slice(0, 4).includes(s)),
        )
        const of: System = {
          ...made,
          holds: few,
          fittings: made.fittings.filter((f) => few.some((h) => h.sections.includes(f.section))),
          valves: made.valves.filter((v) => v.between.length > 1),
          channels: made.sections.map(({ id }) => ({
            ...made.channels[0],
            id: `gauge@${id}`,
            section: id,
            movable: { id: 'gauge', places: made.sections.map((s) => s.id) },
          })),
        }
        const shut = (ids: readonly string[]) => ids.filter((id) => of.valves.some((v) => v.id === id))
        const plane = { ...of, holds: of.holds.map((h) => ({ ...h, shut: shut(h.shut) })) }
        const sits = isSitting ? places[first % places.length] : null
        const evidence = sits === null ? [] : [marked('place', 'gauge', -9, { section: sits })]
        const plan = campaign(plane, evidence, { nowNs })
        expect(plan.minutes).toBeCloseTo(optimumWithOneGauge(plane, sits), 6)
        expect(plan.exact).toBe(true)
        for (const { gauges, sections } of plan.steps)
          expect([gauges.length, gauges.every((g) => sections.includes(g.section))]).toEqual([1, true])
      }),
      { numRuns: 30 },
    )
  })

  it('plans no hold of two sections parted by a shut valve with one gauge for both, and hunts with none', () => {
    const two = aircraft({ sections: 'a 2, b 2', joints: 'a-b', holds: 'a 2+8, b 2+8, a&b 2+9' })
    const apart = { ...two.holds[2], shut: ['V0'] }
    const one = (of: System): System => ({
      ...of,
      channels: of.channels.map((c) => ({ ...c, movable: { id: 'gauge', places: ['a', 'b'] } })),
    })
    const plane = { ...two, holds: [...two.holds.slice(0, 2), apart] }
    const holdsOf = (of: System) => campaign(of, [], { nowNs }).steps.map((s) => s.hold)
    expect(holdsOf(plane)).toEqual(['H2'])
    expect(holdsOf(one(plane))).toEqual(['H0', 'H1'])
    const steps = (of: System) => hunt(of, [held(of, 'H0', 0, 'fail')]).next.map((s) => s.title)
    expect(steps(plane).join()).toContain('H2')
    expect(steps(one(plane)).join()).not.toContain('H2')
  })

  it('plans no quicker hold at a lower pressure than another hold of the fitting asks for', () => {
    const twice = aircraft({ sections: 'feed 2', joints: 'feed', holds: 'feed 3+10@5, feed 5+30@10' })
    const holds = campaign(twice, [], { nowNs }).steps.flatMap((s) => s.hold ?? [])
    expect(holds).toEqual(['H1'])
  })

  const plane = aircraft(invented['two tanks on a selector'])

  it('begins with the rig, and leaves it out when it was proven in the day before', () => {
    expect(campaign(plane, [], { nowNs }).steps[0]).toMatchObject({ kind: 'rig', hold: 'hose' })
    const proven = held(plane, 'hose', -60, 'pass', null, { record: 'rig' })
    expect(campaign(plane, [proven], { nowNs }).steps[0].kind).toBe('hold')
    const stale = held(plane, 'hose', -1500, 'pass', null, { record: 'rig' })
    expect(campaign(plane, [stale], { nowNs }).steps[0].kind).toBe('rig')
  })

  it('is planned anew after each result and ends only when every cap is out', () => {
    const evidence: Evidence[] = [held(plane, 'hose', 0, 'pass', null, { record: 'rig' })]
    const made: string[] = []
    const planned = campaign(plane, evidence, { nowNs: BigInt(atMinute(600)) })
    const later = { nowNs: BigInt(atMinute(600)) }
    for (let minute = 60; minute < 600; minute += 60) {
      const plan = campaign(plane, evidence, later)
      const next = plan.steps[0]
      if (next.kind === 'plugs-out') break
      expect(plan.complete).toBe(false)
      made.push(next.hold!)
      evidence.push(held(plane, next.hold!, minute, 'pass', null, { record: `${minute}` }))
    }
    expect(made).toEqual(planned.steps.filter((s) => s.kind === 'hold').map((s) => s.hold))
    const plugged = campaign(plane, evidence, later)
    expect(plugged).toMatchObject({ complete: false, proven: 21, plugs_in: ['V3'] })
    expect(plugged.steps.map((s) => [s.kind, s.plugs])).toEqual([['plugs-out', ['V3']]])
    const out = campaign(plane, [...evidence, marked('plug', 'V3', 9000, { state: 'out' })], { nowNs })
    expect(out).toMatchObject({ complete: true, steps: [], minutes: 0 })
  })

  it('asks for the leak to be found before what failed is held again', () => {
    const fail = held(plane, 'H2', -60, 'fail', null, { record: 'fail' })
    const plan = campaign(plane, [fail], { nowNs })
    const again = plan.steps.find((s) => s.sections.includes('feed'))!
    expect(again.repair_first).toEqual(plane.fittings.filter((f) => f.section === 'feed').map((f) => f.id))
    expect(plan.message).toMatch(/find the leak/)
  })

  it('tells before the pump which calibration of its gauges is overdue, on the day after the due date', () => {
    const calibration = { date: '2024-12-31', due: '2025-12-31', points: [] }
    const of = {
      ...plane,
      channels: plane.channels.map((c) => (c.section === 'left' ? { ...c, calibration } : c)),
    }
    const cautions = (now: string) =>
      campaign(of, [], { nowNs: BigInt(Date.parse(now)) * 1_000_000n }).steps.flatMap((s) => s.cautions)
    expect(cautions('2025-12-31T20:00:00Z')).toEqual([])
    expect(cautions('2026-01-01T08:00:00Z')).toEqual([
      'The calibration of p-left was due on 2025-12-31. Have it calibrated before this hold.',
    ])
  })
})
