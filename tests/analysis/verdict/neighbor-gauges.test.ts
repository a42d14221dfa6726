import { expect, it } from 'vitest'
import type { Recording } from '#analysis/model/samples.ts'
import type { Channel, System } from '#analysis/model/system.ts'
import type { HoldStages } from '#analysis/stages/stages-from-pressure.ts'
import { feedsNeighbor, neighborGains } from '#analysis/verdict/neighbor-gauges.ts'
import { holdS, madeView } from '../faults/made-hold.ts'

/** The shut section beyond the valve of a hold of ten minutes rises by 1200 Pa, and falls back after the vent. */
function told(
  change: (system: System) => Partial<System> = () => ({}),
  stages: Partial<HoldStages> = {},
  channel: Partial<Channel> = {},
  at: (timeS: number) => number | null = (timeS) => (timeS < 770 ? 2 * (timeS - holdS) : 0),
) {
  const { recording, system, ...view } = madeView({
    others: [{ channel: { section: 'beyond', unit: 'psi', ...channel }, at }],
  })
  const of = { ...system, ...change(system) }
  const all = { ...view, source: 'marks' as const, ...stages }
  return {
    gains: neighborGains(recording as Recording, of, all).map(({ section }) => section),
    feeds: feedsNeighbor(recording as Recording, of, all, ['line']),
  }
}
const nothing = { gains: [], feeds: false }
const gained = { gains: ['beyond'], feeds: true }
const between =
  (...sections: string[]) =>
  ({ valves }: System) => ({
    valves: valves.map((valve) => ({ ...valve, between: sections })),
  })

it.each<[string, ReturnType<typeof told>, object]>([
  ['is told, whichever side of the valve it is on', told(between('beyond', 'line')), gained],
  ['is told of the hold, not of what the gauge does after the vent', told(), gained],
  [
    'is told up to the end where there is no vent yet',
    told(undefined, { ventS: null, endS: 400 }, {}, (timeS) => (timeS < 400 ? 2 * (timeS - holdS) : 0)),
    gained,
  ],
  ['is not told before the hold', told(undefined, { holdS: null }), nothing],
  ['is not told of a cap to the outside', told(between('line')), nothing],
  ['is not told of a valve elsewhere', told(between('beyond', 'far')), nothing],
  ['is not told of a section of the hold itself', told(between('line', 'line')), nothing],
  ['is not told of a thermometer', told(undefined, {}, { measures: 'temperature', unit: 'degC' }), nothing],
  ['is not told of a gauge on another section', told(undefined, {}, { section: 'far' }), nothing],
  ['is not told of a gauge that is silent', told(undefined, {}, {}, () => null), nothing],
  [
    'is told in the unit of a calibrated gauge',
    told(undefined, {}, { measures: 'absolute-pressure' }),
    gained,
  ],
])('a gain beyond a shut valve %s', (_, found, expected) => expect(found).toEqual(expected))
