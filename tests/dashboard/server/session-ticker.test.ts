import { afterEach, describe, expect, it } from 'vitest'
import type { LeakLook, LiveState, StreamedState } from '#dashboard/api.ts'
import { SessionTicker } from '#dashboard/server/session/session-ticker.ts'
import { EventRing } from '#dashboard/server/stream/event-ring.ts'
import { until } from './until.ts'

const look = (atS: number): LeakLook => ({ atS, dropPa: { value: 1, low: 0, high: 2 } })
const stateWith = (hold: string, looks: readonly LeakLook[] | null): Omit<LiveState, 'role'> => ({
  version: '0',
  systemName: 'wing',
  systemChanges: 0,
  speed: 1,
  demo: false,
  nowS: 1,
  recording: null,
  newest: {},
  ports: [],
  hold: looks && {
    hold,
    stage: 'hold',
    stageStartedS: 0,
    stageLengthS: 60,
    looks,
    allowanceDropPa: 5,
    verdict: null,
    reasons: [],
    decidesInS: null,
    compensatedPa: {},
  },
  last: null,
  alarms: [],
  marks: [],
})

let ticker: SessionTicker | null = null
afterEach(() => ticker?.stop())

describe('SessionTicker', () => {
  it('tells the looks of a hold once, and again when there are others', async () => {
    const ring = new EventRing()
    const told = (): (readonly number[] | null | undefined)[] => {
      const all = []
      for (let at = 0; at < ring.end; at++) {
        const { name, data } = ring.at(at) as { name: string; data: string }
        if (name !== 'state') continue
        const { hold } = JSON.parse(data) as StreamedState
        all.push(hold === null ? null : hold.looks?.map(({ atS }) => atS))
      }
      return all
    }
    const one = [look(20)]
    const two = [...one, look(23)]
    const states = [
      stateWith('left', null),
      stateWith('left', []),
      stateWith('left', one),
      stateWith('left', one),
      stateWith('left', two),
      stateWith('left', two),
      stateWith('left', null),
      stateWith('left', two),
    ]
    let next = 0
    const news = { isChanged: true, channels: { takeBatch: () => null } }
    ticker = new SessionTicker(ring, news, {
      state: () => states[Math.min(next++, states.length - 1)],
      tick: () => {
        news.isChanged = true
      },
      beat: () => {},
    })
    ticker.start()
    await until(() => next >= states.length)
    expect(told()).toEqual([null, [], [20], undefined, [20, 23], undefined, null, [20, 23]])
  })
})
