import { describe, expect, it } from 'vitest'
import { cheapestCover } from '#analysis/hunt/cheapest-cover.ts'
import { type ClosingHold, closingHolds, isPlug } from '#analysis/hunt/closing-holds.ts'
import { gaugePlacings, possibleIsolations } from '#analysis/hunt/isolations.ts'
import type { System } from '#analysis/model/system.ts'
import { fitting, holdSpec, section, system, valve } from './made-system.ts'

const none = { plugs: new Set<string>(), rigs: new Set<string>(), places: new Set<string>() }
/** A hold of 720 s, with three minutes to pump up: 900 s. */
const holdOf = 900
const movable = (of: System, id: string): System => ({
  ...of,
  channels: of.channels.map((one) => ({ ...one, movable: { id } as never })),
})
const named = (holds: readonly ClosingHold[]) => holds.map(({ isolation }) => isolation.hold)

/** Two lines that no valve joins, each closed by a cap and pumped up through the rig. */
const plane = system(
  [section('feed'), section('forward'), section('hose', { kind: 'rig' })],
  [fitting('F1', 'feed'), fitting('F2', 'feed'), fitting('W1', 'forward')],
  [valve('C1', ['feed'], 'cap'), valve('C2', ['forward'], 'cap'), valve('V1', ['feed'], 'shut-off')],
  [
    holdSpec('feed', ['feed'], ['C1', 'V1'], { rig: 'hose' }),
    holdSpec('forward', ['forward'], ['C2'], { rig: 'hose' }),
    holdSpec('hose', ['hose'], [], { settleS: 20, holdS: 100 }),
  ],
)

describe('closingHolds(two lines with caps and a rig) counts each hold, cap, move and the rig once', () => {
  const { rigs, ...rest } = closingHolds(plane, ['F1', 'F2', 'W1'], none)
  it('two holds of 900 s, two caps of two minutes, and the rig of 300 s first (own figures, by hand)', () => {
    expect(named(rest.holds)).toEqual(['feed', 'forward'])
    expect(rest.holds.map(({ proves, plugs, rig }) => [proves, plugs, rig])).toEqual([
      [['F1', 'F2'], ['C1'], 'hose'],
      [['W1'], ['C2'], 'hose'],
    ])
    expect(named(rigs)).toEqual(['hose'])
    expect(rest).toMatchObject({
      moves: 0,
      exact: true,
      seconds: 2 * holdOf + 2 * 120 + 300,
      uncoverable: [],
    })
  })
  it('caps that are in and a rig that is proven cost nothing more', () => {
    const ready = { ...none, plugs: new Set(['C1']), rigs: new Set(['hose']) }
    const less = closingHolds(plane, ['F1', 'F2', 'W1'], ready)
    expect(less.seconds).toBe(2 * holdOf + 120)
    expect(less.rigs).toEqual([])
  })
  it('a gauge that has to be moved takes three minutes at each place but the present one (own figure)', () => {
    const one = movable({ ...plane, channels: plane.channels.slice(0, 2) }, 'SN-1')
    const at = (...places: string[]) => {
      const { seconds, moves } = closingHolds(one, ['F1', 'W1'], {
        ...none,
        plugs: new Set(['C1', 'C2']),
        places: new Set(places),
      })
      return [seconds - 2 * holdOf, moves]
    }
    expect([at(), at('p-feed'), at('p-feed', 'p-forward')]).toEqual([
      [2 * 180, 2],
      [180, 1],
      [0, 0],
    ])
  })
  it('a gauge that first proves the rig has left its place', () => {
    const one = movable(plane, 'SN-1')
    const ready = { ...none, plugs: new Set(['C1', 'C2']), places: new Set(['p-feed']) }
    const moved = (rigsProven: readonly string[]) => {
      const { seconds, moves } = closingHolds(one, ['F1'], { ...ready, rigs: new Set(rigsProven) })
      return [seconds, moves]
    }
    expect(moved(['hose'])).toEqual([holdOf, 0])
    expect(moved([])).toEqual([holdOf + 300 + 2 * 180, 2])
  })
  it('only what is open is proven, and nothing is to do when all is', () => {
    expect(closingHolds(plane, ['W1'], none).holds.map(({ proves }) => proves)).toEqual([['W1']])
    expect(closingHolds(plane, [], none)).toMatchObject({
      holds: [],
      rigs: [],
      seconds: 0,
      boundS: 0,
      exact: true,
    })
  })
  it('the only rig with a hold of its own serves a set-up that the file does not name', () => {
    const bare = { ...plane, holds: plane.holds.slice(1) }
    const { holds, rigs: first } = closingHolds(bare, ['F1'], none)
    expect(holds.map(({ isolation, rig }) => [isolation.hold, rig])).toEqual([[null, 'hose']])
    expect(named(first)).toEqual(['hose'])
  })
})

describe('closingHolds() refuses what a limit or a gauge forbids, and says why', () => {
  const why = (over: Partial<System>, id = 'F1') =>
    closingHolds({ ...plane, ...over }, [id], none).uncoverable.map((one) => [one.id, one.why])
  it('a pressure over the limit of the rig', () => {
    const sections = plane.sections.map((one) =>
      one.kind === 'rig' ? { ...one, maxPressurePa: 50_000 } : one,
    )
    const holds = plane.holds.filter(({ id }) => id !== 'hose')
    expect(why({ sections, holds })).toEqual([
      ['F1', 'feed is not planned: its 10 psi is more than the limit of hose, 7.25 psi.'],
    ])
  })
  it('a section that no pressure channel sees, and one that no set of valves closes', () => {
    expect(why({ channels: [] })).toEqual([
      [
        'F1',
        'No pressure channel sees feed, alone or joined to a neighbor: fit a gauge or name the channel.',
      ],
    ])
    // A check valve lets the gas of one line into the other, which is held at half the pressure.
    const [feed, forward] = plane.holds
    const holds = [feed, { ...forward, pressurePa: feed.pressurePa / 2 }]
    const open = valve('K1', ['feed', 'forward'], 'check')
    expect(why({ valves: [...plane.valves, open], holds })).toEqual([
      ['F1', 'No set of valves closes feed: name the valve or cap that does.'],
    ])
  })
  it('suction where the file holds the section under pressure: it proves nothing then', () => {
    const suction = holdSpec('suction', ['feed'], ['C1', 'V1'], { pressurePa: -20_000 })
    const of = (holds: System['holds']) => named(closingHolds({ ...plane, holds }, ['F1'], none).holds)
    expect(of([suction, ...plane.holds])).toEqual(['feed'])
    expect(of([suction])).toEqual(['suction'])
  })
})

it('isPlug() is a cap, or an opening of no stated kind, with air on its other side', () => {
  const of = (between: readonly string[], kind: 'cap' | 'shut-off' | null) =>
    isPlug({ ...plane, valves: [valve('X', between, kind)] }, 'X')
  expect([
    of(['feed'], 'cap'),
    of(['feed'], null),
    of(['feed'], 'shut-off'),
    of(['feed', 'hose'], 'cap'),
  ]).toEqual([true, true, false, false])
  expect(isPlug(plane, 'none')).toBe(false)
})

describe('the search for holds ends', () => {
  it('cheapestCover() beyond half a million sets with the best so far and a bound below it (own figure)', () => {
    /** Pairs of a ring with costs that differ a little: no set is better than another by much. */
    const ring = (count: number) => {
      const ids = Array.from({ length: count }, (_, n) => `F${n}`)
      const sets = ids.flatMap((id, n) => [
        { members: [id, ids[(n + 1) % count], ids[(n + 5) % count]], cost: 100 + ((n * 37) % 11) },
        { members: [id, ids[(n + 2) % count], ids[(n + 7) % count]], cost: 100 + ((n * 53) % 13) },
      ])
      return { ...cheapestCover(ids, sets), ids, sets }
    }
    const [small, large] = [ring(13), ring(40)]
    expect(small.exact).toBe(true)
    expect(large.exact).toBe(false)
    expect(large.bound).toBeLessThan(large.cost)
    const covered = new Set(large.chosen.flatMap((n) => large.sets[n].members))
    expect(covered.size).toBe(40)
  })
  it('possibleIsolations() of 40 sections in a row has all 820, of 50 it leaves some of the 1,275 out (own figure)', () => {
    const row = (count: number): number => {
      const ids = Array.from({ length: count }, (_, n) => `s${n}`)
      const of = system(
        ids.map((id) => section(id)),
        ids.map((id) => fitting(`F-${id}`, id)),
        ids.slice(1).map((id, n) => valve(`V${n}`, [ids[n], id])),
        [],
      )
      return possibleIsolations(of).filter(({ measured }) => measured.length === 1).length
    }
    expect(row(40)).toBe(820)
    expect(Math.abs(row(50) - 1000)).toBeLessThan(100)
  })
  it('gaugePlacings() of two gauges with seven and eight places stops at 50 ways (own figure)', () => {
    const ways = (places: number): number => {
      const channels = ['a', 'b'].flatMap((gauge) =>
        Array.from({ length: gauge === 'a' ? 7 : places }, (_, n) => ({
          id: `${gauge}${n}`,
          movable: { id: gauge },
        })),
      )
      const measured = ['a', 'b'].map((gauge) => ({
        channels: channels.filter(({ id }) => id.startsWith(gauge)).map(({ id }) => id),
      }))
      return gaugePlacings({ channels } as never, measured as never).length
    }
    expect([ways(6), ways(8)]).toEqual([42, 50])
  })
})
