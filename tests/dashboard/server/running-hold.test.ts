import { afterEach, beforeEach, describe, expect, it, vi } from 'vitest'
import type { HoldAnalysis } from '#analysis/model/hold-result.ts'
import type { HoldSpec } from '#analysis/model/system.ts'
import type { HoldNote } from '#dashboard/server/session/hold-note.ts'
import type { SectionNow } from '#dashboard/server/session/pressure-watch.ts'
import { RunningHold } from '#dashboard/server/session/running-hold.ts'
import type { SessionCore } from '#dashboard/server/session/session-core.ts'
import { systemFromFile } from '#ingest/system-file/read-system-file.ts'
import { oneLine, onePsi } from './fed-session.ts'

beforeEach(() => {
  vi.useFakeTimers({ toFake: ['performance'] })
})
afterEach(() => {
  vi.useRealTimers()
})

const system = systemFromFile(oneLine, 'one.yaml')
const [spec] = system.holds
const order = { hold: 'h', operator: 'A. B.', witness: null, stateSheet: ['plugged'], retests: '0001-h' }

const estimate = (value: number) => ({ value, low: value - 1, high: value + 1 })
/** An analysis after so many seconds, with a leak of each section by its drop. */
function analysis(
  seconds: number,
  drops: Readonly<Record<string, number>> = { line: 10 },
  more: object = {},
) {
  const leak = Object.entries(drops).map(([section, drop]) => ({ section, drop_Pa: estimate(drop) }))
  return {
    result: {
      ...{ seconds, leak, verdict: 'undecided', reasons: [], needs_seconds_more: 40, proof: null },
      allowance: { drop_Pa: 700 },
      ...more,
    },
    curves: [
      { section: 'line', timeS: Float64Array.of(1, 2), compensatedPa: Float64Array.of(68_000, 67_990) },
    ],
  } as unknown as HoldAnalysis
}

type Gauge = { timeS: Float64Array; gaugePa: Float64Array } | null

/** A hold whose analyses are given; `answer` resolves the look that is asked for. */
function made(startedS = 0, of: HoldSpec = spec) {
  const asked: { hold: string; since: number }[] = []
  const said: string[] = []
  let pending: { resolve: (found: HoldAnalysis | null) => void; reject: (error: Error) => void } | null = null
  let standing: SectionNow[] = []
  let gauge: Gauge = null
  const gaugeFrom: number[] = []
  let since = 0
  const core = {
    systemFile: { text: oneLine, system },
    channels: {
      standing: () => standing,
      gaugeSince: (_: string, fromS: number) => {
        gaugeFrom.push(fromS)
        return gauge
      },
    },
    marks: {
      since: (fromS: number) => {
        since = fromS
        return []
      },
    },
    thread: {
      ask: (_: string, hold: string) => {
        asked.push({ hold, since })
        return new Promise((resolve, reject) => {
          pending = { resolve, reject }
        })
      },
    },
    changed() {},
    log: (line: string) => said.push(line),
    seconds: (ns: bigint) => Number(ns) / 1e9,
  } as unknown as SessionCore
  const hold = new RunningHold(core, of, order, startedS, 5)
  const settle = async () => {
    for (let n = 0; n < 5; n++) await Promise.resolve()
  }
  return {
    ...{ core, hold, asked, said, gaugeFrom },
    gaugeReads(given: Gauge) {
      gauge = given
    },
    reads(timeS: number, gaugePa: number) {
      standing = [{ section: 'line', timeS, gaugePa, absolutePa: gaugePa + 101_325, temperatureK: null }]
      hold.update(timeS)
    },
    async answer(found: HoldAnalysis | null | Error) {
      if (found instanceof Error) pending!.reject(found)
      else pending!.resolve(found)
      await settle()
    },
    inHold() {
      hold.machine.enter('settle', startedS)
      hold.machine.enter('hold', startedS)
    },
  }
}

describe('RunningHold.look()', () => {
  it('asks after 20 s, then every 3 s of the bench and 0.7 s of the clock, once at a time', async () => {
    const { hold, asked, answer, inHold } = made(100)
    inHold()
    hold.look(119.9)
    expect(asked).toEqual([])
    hold.look(120)
    hold.look(130)
    expect(asked).toEqual([{ hold: 'h', since: 5 }])
    await answer(analysis(20))
    vi.advanceTimersByTime(5000)
    hold.look(122.9)
    expect(asked).toHaveLength(1)
    hold.look(123)
    expect(asked).toHaveLength(2)
    await answer(null)
    vi.advanceTimersByTime(699)
    hold.look(200)
    expect(asked).toHaveLength(2)
    vi.advanceTimersByTime(1)
    hold.look(200)
    expect(asked).toHaveLength(3)
  })

  it('shows what an analysis found, the worst section first', async () => {
    const { hold, answer, inHold } = made()
    inHold()
    expect(hold.show(1)).toMatchObject({
      ...{
        hold: 'h',
        stage: 'hold',
        stageStartedS: 0,
        stageLengthS: 60,
        looks: [],
        verdict: null,
        reasons: [],
      },
      ...{
        decidesInS: null,
        proof: null,
        compensatedPa: {},
        pumpUpS: 0,
        time: 'prescribed',
        lost: null,
        broken: null,
      },
    })
    expect(hold.show(1).allowanceDropPa).toBeCloseTo(0.1 * onePsi, 6)
    expect(hold.curves()).toEqual([])
    hold.look(20)
    await answer(analysis(20, { a: 10, line: 30, b: 20 }))
    const { looks, ...shown } = hold.show(20)
    expect(looks).toEqual([
      {
        ...{ atS: 20, dropPa: estimate(30) },
        sections: { a: estimate(10), line: estimate(30), b: estimate(20) },
      },
    ])
    expect(shown).toMatchObject({
      ...{ verdict: 'undecided', decidesInS: 40, allowanceDropPa: 700, compensatedPa: { line: 67_990 } },
    })
    expect(hold.curves()).toEqual([{ section: 'line', timeS: [1, 2], compensatedPa: [68_000, 67_990] }])
    vi.advanceTimersByTime(700)
    hold.look(23)
    await answer(analysis(23, { line: 30 }, { allowance: { drop_Pa: Number.NaN } }))
    expect(hold.show(23).looks[1]).toEqual({ atS: 23, dropPa: estimate(30) })
    expect(hold.show(23).allowanceDropPa).toBe(700)
    vi.advanceTimersByTime(700)
    hold.look(26)
    await answer(analysis(26, {}))
    expect(hold.show(26).looks).toHaveLength(2)
  })

  it('drops every second of more than 240 looks, never the newest', async () => {
    const { hold, answer, inHold } = made()
    inHold()
    for (let n = 0; n < 241; n++) {
      vi.advanceTimersByTime(700)
      hold.look(20 + 3 * n)
      await answer(analysis(20 + 3 * n))
      if (n === 239) expect(hold.show(0).looks).toHaveLength(240)
    }
    const times = hold.show(0).looks.map(({ atS }) => atS)
    expect(times).toEqual(Array.from({ length: 121 }, (_, n) => 20 + 6 * n))
  })

  it('throws away what comes too late, and tells of a look that failed', async () => {
    for (const late of ['over', 'vented'] as const) {
      const { hold, answer, inHold, said } = made()
      inHold()
      hold.look(20)
      if (late === 'over') hold.isOver = true
      else hold.machine.enter('vent', 21)
      await answer(analysis(20))
      expect([hold.show(21).looks, said]).toEqual([[], []])
    }
    for (const isOver of [false, true]) {
      const { hold, answer, inHold, said, asked } = made()
      inHold()
      hold.look(20)
      hold.isOver = isOver
      await answer(new Error('out of memory'))
      expect(said).toEqual(isOver ? [] : ['the look at the running hold failed: out of memory'])
      vi.advanceTimersByTime(700)
      hold.look(23)
      expect(asked).toHaveLength(2)
    }
  })
})

describe('RunningHold at a lost pressure', () => {
  async function lost() {
    const one = made()
    one.inHold()
    one.reads(1, 10 * onePsi)
    one.hold.anchor()
    one.hold.look(20)
    await one.answer(analysis(20))
    one.reads(21, 10 * onePsi)
    expect(one.hold.lost).toBeNull()
    one.reads(22, 5 * onePsi)
    expect(one.hold.lost).toMatchObject({ section: 'line', atS: 22, toPa: 5 * onePsi })
    return one
  }
  it('withdraws its verdict, looks no more, and takes no look that was pending', async () => {
    const { hold, asked, reads } = await lost()
    expect([hold.show(22).verdict, hold.show(22).lost?.section, hold.curves()]).toEqual([null, 'line', []])
    vi.advanceTimersByTime(5000)
    hold.look(40)
    expect(asked).toHaveLength(1)
    reads(41, 0)
    expect(hold.lost?.atS).toBe(22)
  })
  it.each([
    [true, 2],
    [false, 1],
  ])('looks count again after the answer only where the pressure still holds: %s', async (goesOn, looks) => {
    const { hold, answer } = await lost()
    hold.answerLost(goesOn)
    expect(hold.lost).toBeNull()
    vi.advanceTimersByTime(5000)
    hold.look(40)
    await answer(analysis(40))
    expect(hold.show(40).looks).toHaveLength(looks)
  })
  it('is watched in settle and hold only', () => {
    for (const stage of ['pump-up', 'settle', 'hold', 'vent'] as const) {
      const { hold, reads } = made()
      if (stage !== 'pump-up') hold.machine.enter(stage === 'vent' ? 'vent' : 'settle', 0)
      if (stage === 'hold') hold.machine.enter('hold', 0)
      reads(1, 10 * onePsi)
      hold.anchor()
      reads(2, 5 * onePsi)
      expect(hold.lost !== null).toBe(stage === 'settle' || stage === 'hold')
    }
  })
  it.each([
    // 1 % of the test pressure a second, three times, and 1 % of the absolute pressure: 20,684 and 1,703 Pa after 10 s.
    [22_300, null],
    [22_500, 'line'],
  ])(
    'before anything is known of its leak takes a fall of %i Pa in 10 s for a loss: %s',
    (fallPa, section) => {
      const { hold, reads } = made()
      hold.machine.enter('settle', 0)
      reads(0, 10 * onePsi)
      hold.anchor()
      reads(10, 10 * onePsi - fallPa)
      expect(hold.lost?.section ?? null).toBe(section)
    },
  )
})

describe('RunningHold while settling', () => {
  const even = (untilS: number) => {
    const timeS = Float64Array.from({ length: 4 * 60 + 1 }, (_, n) => untilS - 60 + n / 4)
    return { timeS, gaugePa: timeS.map((t) => 10 * onePsi - 0.1 * t) }
  }
  it('judges the last minute every 2 s, and counts down where the pressure is even', () => {
    const one = made()
    one.hold.machine.enter('settle', 0)
    one.gaugeReads(even(100))
    one.reads(100, 10 * onePsi)
    one.reads(101.9, 10 * onePsi)
    expect(one.gaugeFrom).toEqual([40])
    one.reads(102, 10 * onePsi)
    one.reads(30, 10 * onePsi)
    // Never from before settling began.
    expect(one.gaugeFrom).toEqual([40, 42, 0])
    expect(one.hold.show(102).settled).toMatchObject({ ready: true, nowPaPerS: expect.closeTo(-0.1, 6) })
    expect(one.hold.show(35).settled?.startsInS).not.toBeNull()
  })
  it.each([
    [
      'uneven',
      (one: ReturnType<typeof made>) => {
        one.gaugeReads({ ...even(100), gaugePa: even(100).timeS.map((t) => 60_000 + (t - 70) ** 2 * 5) })
      },
    ],
    [
      'not measured',
      (one: ReturnType<typeof made>) => {
        one.gaugeReads(null)
      },
    ],
    [
      'of a hold that proves nothing more',
      (one: ReturnType<typeof made>) => {
        one.hold.broken = 'disk full'
      },
    ],
  ])('does not count down a section %s', (_, change) => {
    const one = made()
    one.hold.machine.enter('settle', 0)
    one.gaugeReads(even(100))
    change(one)
    one.reads(100, 10 * onePsi)
    expect(one.hold.machine.startsInS(100)).toBeNull()
  })
  it('takes one percent of the test pressure over the hold where the allowance is a flow, until a look has converted it', () => {
    // A quarter of 689 Pa in 60 s: 2.87 Pa/s.
    const startsInS = (bend: number) => {
      const one = made(0, { ...spec, allow: { kind: 'gas-leak', molPerS: 1e-6 }, time: 'until-decided' })
      one.hold.machine.enter('settle', 0)
      const { timeS, gaugePa } = even(100)
      one.gaugeReads({ timeS, gaugePa: gaugePa.map((pa, n) => pa - bend * Math.max(0, timeS[n] - 85)) })
      one.reads(100, 10 * onePsi)
      expect(one.hold.show(100)).toMatchObject({ allowanceDropPa: 0, time: 'until-decided' })
      return one.hold.machine.startsInS(100)
    }
    expect([startsInS(2.7), startsInS(3.05)]).toEqual([10, null])
  })
  it('does not count down under half of the test pressure, and tells in the pump-up whether it is reached', () => {
    const one = made()
    one.reads(1, 4.9 * onePsi)
    expect([one.hold.show(1).atPressure, one.hold.show(1).settled]).toEqual([false, undefined])
    one.reads(2, 5.1 * onePsi)
    expect(one.hold.show(2).atPressure).toBe(true)
    one.hold.machine.enter('settle', 0)
    one.gaugeReads(even(100))
    one.reads(100, 4.9 * onePsi)
    expect([one.hold.machine.startsInS(100), one.hold.show(100).atPressure]).toEqual([null, undefined])
  })
})

describe('RunningHold kept over a restart', () => {
  it('writes what its note needs, and goes on from it', () => {
    const { hold, core } = made(5)
    Object.assign(hold.begunNs, { 'pump-up': '5000000000', settle: '65000000000' })
    hold.machine.enter('settle', 65)
    hold.photos = ['a.jpg']
    const note = hold.note('bench.lp')
    expect(note).toEqual({
      ...{ stillhold_running: 1, stage: 'settle', begun: { 'pump-up': '5000000000', settle: '65000000000' } },
      ...{ recording: 'bench.lp', systemText: oneLine, photos: ['a.jpg'], ...order },
    })
    const again = RunningHold.fromNote(note, core)!
    expect([again.machine.stage, again.machine.begun, again.photos, again.broken, again.order]).toEqual([
      ...['settle', { 'pump-up': 5, settle: 65 }, ['a.jpg'], null, order],
    ])
    expect(again.note('bench.lp')).toEqual(note)
    hold.broken = 'the recording failed'
    expect(hold.note('bench.lp').broken).toBe('the recording failed')
    hold.machine.enter('end', 70)
    expect([hold.note('bench.lp').stage, hold.show(70).stage]).toEqual(['vent', 'vent'])
  })
  it('takes no note of a hold that the system file has not, or that never began', () => {
    const { hold, core } = made()
    const note: HoldNote = { ...hold.note('bench.lp'), begun: { 'pump-up': '5' } }
    expect(RunningHold.fromNote(note, core)?.photos).toEqual([])
    expect(RunningHold.fromNote({ ...note, photos: undefined, broken: 'full' }, core)).toMatchObject({
      photos: [],
      broken: 'full',
    })
    expect(RunningHold.fromNote({ ...note, hold: 'none' }, core)).toBeNull()
    expect(RunningHold.fromNote({ ...note, begun: {} }, core)).toBeNull()
  })
  it('takeBackStage() keeps the looks of a hold that goes on, and forgets those of one that began too early', async () => {
    const { hold, answer, inHold } = made()
    inHold()
    Object.assign(hold.begunNs, { 'pump-up': '0', settle: '0', hold: '0' })
    hold.look(20)
    await answer(analysis(20))
    hold.machine.enter('vent', 30)
    hold.begunNs.vent = '30000000000'
    hold.takeBackStage()
    expect([hold.machine.stage, hold.show(30).looks.length, hold.begunNs.vent]).toEqual([
      'hold',
      1,
      undefined,
    ])
    hold.takeBackStage()
    expect([hold.machine.stage, hold.show(30).looks, hold.show(30).verdict]).toEqual(['settle', [], null])
  })
})
