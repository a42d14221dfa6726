import { mkdtempSync, rmSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { describe, expect, it } from 'vitest'
import type { HoldSpec, Section } from '#analysis/model/system.ts'
import { figuresIn, unitsOfSystem } from '#analysis/reasons/figures.ts'
import { LoggerClock } from '#dashboard/server/session/clocks.ts'
import { keepHoldPhoto } from '#dashboard/server/session/hold-note.ts'
import { Arrivals, LiveChannels } from '#dashboard/server/session/live-channels.ts'
import { SeenFields } from '#dashboard/server/session/point-channels.ts'
import { PressureAlarms, PressureLoss, settled } from '#dashboard/server/session/pressure-watch.ts'
import { SessionMarks } from '#dashboard/server/session/session-marks.ts'
import { BenchPort } from '#dashboard/server/session/session-ports.ts'
import { StageMachine } from '#dashboard/server/session/stage-machine.ts'
import { startChecks } from '#dashboard/server/session/start-checks.ts'
import { systemFromFile } from '#ingest/system-file/read-system-file.ts'

/** Each row lies on one side of a limit that the documents or the page state, close enough that a limit 30 % off fails. */

const psi = 6894.757293
const spec: HoldSpec = {
  ...{ id: 'left-feed', sections: ['left-feed'], shut: [], pressurePa: 10 * psi, settleS: 120, holdS: 600 },
  ...{ allow: { kind: 'drop', dropPa: 690 }, allowSource: null, rig: null },
}

describe('StageMachine', () => {
  it.each([
    [4.9, false],
    [5.1, true],
    [5, true],
  ])('at %f of 10 psi the section is at pressure: %s', (gaugePsi, is) => {
    expect(new StageMachine(spec, 0).isAtPressure([gaugePsi * psi])).toBe(is)
  })

  it.each([
    [0.95, 'end'],
    [1.05, null],
    [-0.95, 'end'],
    [-1.05, null],
  ])('a vent ends after 10 s at %f of 10 psi: %s', (gaugePsi, ends) => {
    const machine = new StageMachine(spec, 0)
    machine.enter('vent', 100)
    machine.due(100, [gaugePsi * psi])
    expect(machine.due(109.9, [gaugePsi * psi])).toBeNull()
    expect(machine.due(110, [gaugePsi * psi])).toBe(ends)
  })

  it('takeBack() goes on with the stage before, from when that one began, and counts down anew', () => {
    const machine = new StageMachine(spec, 5)
    machine.enter('settle', 60)
    machine.settling(175, true)
    machine.enter('hold', 185)
    machine.takeBack()
    expect([machine.stage, machine.startedS, machine.lengthS]).toEqual(['settle', 60, 120])
    expect(machine.begun).toEqual({ 'pump-up': 5, settle: 60 })
    expect(machine.due(200, [9 * psi])).toBeNull()
    machine.settling(200, true)
    expect([machine.due(209, [9 * psi]), machine.due(210, [9 * psi])]).toEqual([null, 'hold'])
  })
})

describe('PressureLoss', () => {
  const at = (timeS: number, gaugePa: number, temperatureK: number | null = null) => ({
    ...{ section: 'line', timeS, gaugePa, temperatureK },
    absolutePa: gaugePa + 101_325,
  })
  /** Whether a fall is called at once, at the second reading, or not. */
  const called = (fromPa: number, fallPa: number, fallPaPerS: number, afterS: number, coolsK = 0) => {
    const loss = new PressureLoss()
    loss.anchor([at(0, fromPa, 290)], fallPaPerS)
    const now = at(afterS, fromPa - fallPa, 290 - coolsK)
    return loss.update([now]) ? 'at once' : loss.update([now]) ? 'confirmed' : 'not'
  }
  it.each([
    // 3 × 100 Pa/s × 20 s, and 1 % of 170,273 Pa.
    ['three times the upper bound of the leak', 68_948, 7600, 100, 20, 0, 'not'],
    ['three times the upper bound of the leak', 68_948, 7800, 100, 20, 0, 'confirmed'],
    ['1 % of the absolute pressure', 68_948, 1690, 0, 20, 0, 'not'],
    ['1 % of the absolute pressure', 68_948, 1715, 0, 20, 0, 'confirmed'],
    ['a quarter of a small gauge pressure', 2000, 490, 0, 20, 0, 'not'],
    ['a quarter of a small gauge pressure', 2000, 510, 0, 20, 0, 'at once'],
    ['a fifth of the gauge pressure', 68_948, 13_700, 0, 20, 0, 'confirmed'],
    ['a fifth of the gauge pressure', 68_948, 13_900, 0, 20, 0, 'at once'],
    // Twice 170,273 Pa × 1 K / 290 K, and 1 %.
    ['twice the cooling', 68_948, 2850, 0, 20, 1, 'not'],
    ['twice the cooling', 68_948, 2900, 0, 20, 1, 'confirmed'],
  ] as const)(
    'the limit of %s: a fall from %i Pa by %i Pa',
    (_, fromPa, fallPa, fallPaPerS, afterS, coolsK, is) => {
      expect(called(fromPa, fallPa, fallPaPerS, afterS, coolsK)).toBe(is)
    },
  )

  it.each([
    [59, 'line'],
    [61, undefined],
  ])('compares with pressures of the last minute: %i s ago', (agoS, section) => {
    const loss = new PressureLoss()
    loss.anchor([at(0, 68_948)], 0)
    loss.anchor([at(agoS, 66_500)], 0)
    loss.update([at(agoS, 65_500)])
    expect(loss.update([at(agoS, 65_500)])?.section).toBe(section)
  })
})

describe('PressureAlarms', () => {
  const tank: Section = {
    ...{ id: 'left-tank', medium: 'air', volumeM3: 0.075, volumeToleranceM3: 0.005, maxPressurePa: 10_000 },
    ...{ maxVacuumPa: 2000, stretchPerPa: null, kind: null, capacityM3: null, unusableM3: null },
  }
  it.each([
    [6.5, 0],
    [7.5, 1],
  ])('judge the ramp of a tank after %f s of readings: %i alarms', (seconds, alarms) => {
    const watch = new PressureAlarms(tank)
    for (let timeS = 0; timeS <= seconds; timeS += 0.25) watch.update(timeS, (psi * timeS) / 60)
    expect(watch.alarms()).toHaveLength(alarms)
  })
  it('begin anew when the time goes back', () => {
    const watch = new PressureAlarms(tank)
    for (let timeS = 100; timeS <= 106; timeS += 0.25) watch.update(timeS, (psi * timeS) / 60)
    for (let timeS = 0; timeS <= 6; timeS += 0.25) watch.update(timeS, (psi * timeS) / 60)
    expect(watch.alarms()).toEqual([])
    for (let timeS = 6.25; timeS <= 8; timeS += 0.25) watch.update(timeS, (psi * timeS) / 60)
    expect(watch.alarms()).toHaveLength(1)
  })
  it('forget a ramp that ended ten seconds ago', () => {
    const watch = new PressureAlarms(tank)
    for (let timeS = 0; timeS <= 22; timeS += 0.25) watch.update(timeS, (psi * Math.min(timeS, 12)) / 60)
    expect(watch.alarms()).toEqual([])
  })
})

describe('settled()', () => {
  /** Falls by 1 Pa/s, and faster by `bend` since the last `span`. */
  const judged = (seconds: number, settleS: number, bend: number, wasReady = false) => {
    const timeS = Float64Array.from({ length: 4 * seconds + 1 }, (_, n) => n / 4)
    const kneeS = seconds - Math.max(5, Math.min(20, settleS / 2))
    const gaugePa = timeS.map((t) => 5000 - t - bend * Math.max(0, t - kneeS))
    return settled({ timeS, gaugePa }, 10, { settleS, wasReady })
  }
  it.each([
    [35.5, 120, 0, false],
    [36.5, 120, 0, true],
    [8.75, 6, 0, false],
    [9.25, 6, 0, true],
    [60, 120, 2.4, true],
    [60, 120, 2.6, false],
  ])(
    'after %f s of a settle time of %i s, bent by %f Pa/s where 10 Pa/s are allowed: %s',
    (seconds, settleS, bend, ready) => {
      expect(judged(seconds, settleS, bend).ready).toBe(ready)
    },
  )
  it('stays settled up to twice the bend, and tells both slopes', () => {
    expect([4.9, 5.1].map((bend) => judged(60, 120, bend, true).ready)).toEqual([true, false])
    const { nowPaPerS, beforePaPerS } = judged(60, 120, 3)
    expect([nowPaPerS, beforePaPerS]).toEqual([expect.closeTo(-4, 9), expect.closeTo(-1, 9)])
  })
})

describe('startChecks()', () => {
  const said = (channel: string, reading: number, measures = 'gauge-pressure') => {
    const system = systemFromFile(
      `stillhold: 1
name: one line
channels:
  - { id: p, measures: ${measures}, section: line, from: { measurement: logger, field: p }, unit: psi, range: 0 psi to 30 psi }
  - { id: t, measures: temperature, section: line, from: { measurement: logger, field: t }, unit: degC }
  - { id: baro, measures: barometric-pressure, from: { measurement: logger, field: b }, unit: hPa }
sections:
  - { id: line, medium: air, volume: 0.5 L }
holds:
  - { id: h, sections: [line], pressure: 10 psi, settle: 2 min, hold: 5 min, allow: { drop: 0.1 psi } }
`,
      'aircraft.yaml',
    )
    const readings = {
      p: measures === 'gauge-pressure' ? 0 : 100_000,
      t: 291,
      baro: 100_000,
      [channel]: reading,
    }
    const newest = Object.fromEntries(
      Object.entries(readings).map(([id, each]) => [id, { timeS: 1, reading: each, quietS: null }]),
    )
    const figures = figuresIn(unitsOfSystem(system))
    const found = startChecks(system.holds[0], system, {
      newest,
      figures,
      unitOf: () => null,
      isPlaced: () => true,
    })
    return found.find((check) => check.channel === channel)!.state
  }
  it.each([
    ['p', 0.45 * psi, 'ready'],
    ['p', 0.55 * psi, 'notice'],
    ['p', 2.9 * psi, 'notice'],
    ['p', 3.1 * psi, 'blocks'],
    ['p', -0.55 * psi, 'notice'],
    ['p', -0.65 * psi, 'blocks'],
    ['t', 222, 'blocks'],
    ['t', 224, 'ready'],
    ['t', 342, 'ready'],
    ['t', 344, 'blocks'],
    ['baro', 67_900, 'blocks'],
    ['baro', 68_100, 'ready'],
    ['baro', 107_900, 'ready'],
    ['baro', 108_100, 'blocks'],
  ])('of %s at %f: %s', (channel, reading, state) => {
    expect(said(channel, reading)).toBe(state)
  })
  it.each([
    [104_900, 'ready'],
    [105_100, 'blocks'],
    [95_100, 'ready'],
    [94_900, 'blocks'],
  ])('of an absolute gauge at %i Pa where the barometer reads 100,000 Pa: %s', (reading, state) => {
    expect(said('p', reading, 'absolute-pressure')).toBe(state)
  })
})

describe('LoggerClock', () => {
  const ns = (s: number) => BigInt(Math.round(s * 1e9))
  it.each([
    [1.025, true],
    [1.015, false],
  ])('of a logger that runs %f times as fast is fast: %s', (rate, fast) => {
    const clock = new LoggerClock('left')
    const wrong = Array.from({ length: 200 }, (_, s) => clock.update(ns(rate * s), ns(s))).flat()
    expect(wrong.length > 0).toBe(fast)
  })
  it('tells a jump for a minute', () => {
    const clock = new LoggerClock('left')
    clock.update(ns(0), ns(0))
    expect(clock.update(ns(8), ns(1))).toEqual([
      {
        ...{ port: 'left', seconds: 7 },
        text: 'The clock of left jumped forward by 7.0 s: a hold that was running proves nothing.',
      },
    ])
    expect([clock.messages(ns(61)).length, clock.messages(ns(61.1)).length]).toEqual([1, 0])
  })
  it.each([
    [2.9, 0],
    [3.1, 1],
    [0.1, 0],
    [-0.1, 1],
  ])('calls a step of the points to %f s, one second after 1 s, %i jumps', (toS, jumps) => {
    const clock = new LoggerClock('left')
    clock.update(ns(1), ns(0))
    // Up to 2 s ahead and up to 1 s back are late or early lines.
    expect(clock.update(ns(toS + (toS > 2 ? 1 : 0)), ns(1))).toHaveLength(jumps)
  })
})

it.each([
  [0.045, null],
  [0.055, 20],
])('Arrivals: readings %f s apart are one batch, or the usual pause', (apartS, quietS) => {
  let nowMs = 0
  const arrivals = new Arrivals(() => nowMs)
  for (const s of [0, 10, 20, 30])
    for (const more of [0, apartS, 2 * apartS]) {
      nowMs = 1000 * (s + more)
      arrivals.came()
    }
  nowMs = 1000 * (50 + 2 * apartS)
  expect(arrivals.quietS).toEqual(quietS === null ? null : expect.closeTo(quietS, 6))
})

describe('bounds', () => {
  const system = systemFromFile(
    'stillhold: 1\nname: x\nchannels:\n  - { id: p, measures: gauge-pressure, section: s, from: { measurement: m, field: p }, unit: Pa }\nsections:\n  - { id: s, medium: air, volume: 1 L }\n',
    'x.yaml',
  )
  it('LiveChannels.newest() has mean and extremes of the last five seconds', () => {
    const live = new LiveChannels(system)
    for (let t = 0; t <= 10; t++) live.sample('p', t, t)
    expect(live.newest().p.lately).toEqual({ asRead: 7.5, low: 5, high: 10 })
  })
  it.each([
    [20, 20],
    [21, 14],
  ])('LiveChannels.takeBatch() of %i readings has %i', (count, taken) => {
    const live = new LiveChannels(system)
    for (let t = 0; t < count; t++) live.sample('p', t, t)
    expect(live.takeBatch()!.channels.p.reading).toHaveLength(taken)
  })
  it('SessionMarks shows the newest 200 and keeps the newest 2500 of 5001', () => {
    const marks = new SessionMarks()
    for (let n = 0; n < 5001; n++)
      marks.add({
        timeNs: String(n),
        timeS: n,
        kind: 'note',
        id: null,
        hold: null,
        fields: { text: String(n) },
      })
    expect([marks.shown().length, marks.shown()[0].text]).toEqual([200, '4801'])
    expect(marks.since(0).map(({ timeS }) => timeS)).toEqual(Array.from({ length: 2500 }, (_, n) => 2501 + n))
    expect([marks.at('4999')?.timeS, marks.at('2'), marks.unusedNs(4999n)]).toEqual([4999, undefined, 5001n])
  })
  it('SeenFields lists 500 fields, in one series or many', () => {
    const fieldsOf = (count: number) =>
      Array.from({ length: count }, (_, n) => ({ key: `f${n}`, type: 'float', value: n }) as const)
    const point = (s: string, count: number) => ({
      measurement: 'm',
      tags: { s },
      fields: fieldsOf(count),
      timeNs: '1',
    })
    const one = new SeenFields()
    one.update(point('a', 501), 0)
    const many = new SeenFields()
    for (let n = 0; n < 501; n++) many.update(point(String(n), 1), 0)
    expect([one, many].map((seen) => seen.list(() => null).length)).toEqual([500, 500])
  })
  it('keepHoldPhoto() takes 40 photos, each under a name of its own', () => {
    const folder = mkdtempSync(join(tmpdir(), 'stillhold-photos-'))
    const photo = { fitting: 'F 1', bytes: new Uint8Array(1), recording: 'bench.lp' }
    const kept = Array.from({ length: 39 }, (_, n) => String(n))
    expect(keepHoldPhoto(folder, kept, photo)).toBe('bench-photo-40-F_1.jpg')
    expect(keepHoldPhoto(folder, kept, { ...photo, fitting: null })).toBe('bench-photo-40.jpg')
    expect(keepHoldPhoto(folder, [...kept, '39'], photo)).toBeNull()
    rmSync(folder, { recursive: true })
  })
})

describe('BenchPort, of what it cannot read,', () => {
  function opened(baudRate: number | undefined) {
    const rates: number[] = []
    const said: string[] = []
    const port = {
      ...{ name: 'left', async open() {}, async close() {} },
      ...(baudRate !== undefined && {
        baudRate,
        setBaudRate(rate: number) {
          rates.push(rate)
          this.baudRate = rate
        },
      }),
    }
    const receiver = {
      ...{ point() {}, reject() {}, comment() {}, mark() {}, clockWrong() {} },
      say: (line: string) => void said.push(line),
    }
    const bench = new BenchPort({ port }, 1, receiver)
    const arrival = { wallNs: 0n, monotonicNs: 0n }
    bench.opened(arrival)
    const hear = (bytes: Buffer) => {
      bench.heard(bytes)
      bench.bytes(bytes, arrival)
    }
    return { bench, hear, rates, said }
  }
  const bytes = (text: number, odd: number) => Buffer.from('x'.repeat(text) + '\xff'.repeat(odd), 'latin1')

  it.each([
    [400, 0, undefined],
    [401, 0, 'line-ends'],
    [362, 40, 'line-ends'],
  ])('says of %i bytes of text and %i others without a line end: %s', (text, odd, code) => {
    const { bench, hear, rates } = opened(9600)
    hear(bytes(text, odd))
    expect(bench.state().trouble?.code).toBe(code)
    expect(rates).toEqual([])
  })

  it('tries the usual baud rates in turn where a tenth of the bytes is no text, then the first again, and says so', () => {
    const { bench, hear, rates, said } = opened(9600)
    for (let n = 0; n < 12; n++) hear(bytes(360, 41))
    expect(rates).toEqual([115_200, 57_600, 38_400, 19_200, 230_400, 4800, 2400, 9600])
    expect(said).toHaveLength(7)
    expect(said[0]).toBe('left sends bytes that are no text at 9600 baud: trying 115200.')
    expect(bench.state().trouble).toMatchObject({ code: 'baud-rate', baudRate: 9600 })
    expect(bench.alarms().map(({ code }) => code)).toEqual(['logger-unread'])
  })

  it.each([
    [4, []],
    [5, [115_200]],
  ])('%i lines that are no text: tries %j', (lines, tried) => {
    const { hear, rates } = opened(9600)
    for (let n = 0; n < lines; n++) hear(Buffer.from('\xff\xfe\n', 'latin1'))
    hear(Buffer.from('x'))
    expect(rates).toEqual(tried)
  })

  it('columns without names: says that the header was missed, until they are named', () => {
    const { bench, hear } = opened(undefined)
    for (let n = 0; n < 5; n++) hear(Buffer.from(`10.${n},20.${n}\n`))
    expect(bench.state().trouble).toEqual({
      ...{ code: 'header', columns: 2 },
      message: 'left sends 2 columns without names: its header line was probably missed.',
    })
    expect(() => bench.fix({ columns: ['p'] })).toThrow('left does not send 1 columns')
    expect(() => bench.fix({ baudRate: 9600 })).toThrow('left has no baud rate.')
    bench.fix({ columns: ['p', 't'] })
    expect(bench.state().trouble).toBeNull()
  })
})
