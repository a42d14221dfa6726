import { mkdirSync, readdirSync, rmSync } from 'node:fs'
import { join } from 'node:path'
import { afterEach, beforeEach, describe, expect, it, vi } from 'vitest'
import type { Channel, HoldSpec } from '#analysis/model/system.ts'
import { figuresIn, unitsOfSystem } from '#analysis/reasons/figures.ts'
import type { LiveState, NewMark } from '#dashboard/api.ts'
import { jumpMessage } from '#dashboard/server/session/clocks.ts'
import { ChannelColumns, GrowingRecording, readingsAtMost } from '#dashboard/server/session/columns.ts'
import type { HoldNote } from '#dashboard/server/session/hold-note.ts'
import { HoldSealer } from '#dashboard/server/session/hold-sealer.ts'
import { LiveChannels } from '#dashboard/server/session/live-channels.ts'
import { OperatorMarks } from '#dashboard/server/session/operator-marks.ts'
import { settled } from '#dashboard/server/session/pressure-watch.ts'
import { BenchPort } from '#dashboard/server/session/session-ports.ts'
import { IdleRecording, SessionRecording } from '#dashboard/server/session/session-recording.ts'
import { SessionTicker } from '#dashboard/server/session/session-ticker.ts'
import { startChecks } from '#dashboard/server/session/start-checks.ts'
import { EventRing } from '#dashboard/server/stream/event-ring.ts'
import { systemFromFile } from '#ingest/system-file/read-system-file.ts'
import { fedSession, oneLine, onePsi } from './fed-session.ts'
import { benchFolder } from './open-bench.ts'
import { until } from './until.ts'

/** Each row lies on one side of a limit that the code states with its reason, close enough that a limit 30 % off fails. */

const system = systemFromFile(oneLine, 'one.yaml')
beforeEach(() => {
  vi.useFakeTimers({
    toFake: ['performance', 'setTimeout', 'clearTimeout', 'setInterval', 'clearInterval'],
  })
})
afterEach(() => {
  vi.useRealTimers()
})

it('SessionTicker sends samples every 0.1 s, the state each second and 0.2 s after a change, a beat each 5 s', () => {
  const ring = new EventRing()
  const news = { isChanged: false, channels: { takeBatch: () => ({ channels: {} }) } }
  let ticks = 0
  let beats = 0
  const ticker = new SessionTicker(ring, news, {
    state: () => ({ hold: null }) as Omit<LiveState, 'role'>,
    tick: () => void ticks++,
    beat: () => void beats++,
  })
  const count = (name: string) =>
    Array.from({ length: ring.end }, (_, n) => ring.at(n) as { name: string }).filter(
      (one) => one.name === name,
    ).length
  vi.advanceTimersByTime(20_000)
  ticker.start()
  vi.advanceTimersByTime(100)
  expect([ticks, beats, count('samples'), count('state'), count('beat')]).toEqual([1, 1, 1, 1, 1])
  vi.advanceTimersByTime(900)
  expect(count('state')).toBe(1)
  vi.advanceTimersByTime(100)
  expect([ticks, count('state')]).toEqual([11, 2])
  news.isChanged = true
  vi.advanceTimersByTime(100)
  expect([count('state'), news.isChanged]).toEqual([2, true])
  vi.advanceTimersByTime(100)
  expect([count('state'), news.isChanged]).toEqual([3, false])
  vi.advanceTimersByTime(3700)
  expect([beats, count('beat')]).toEqual([1, 1])
  vi.advanceTimersByTime(100)
  expect([beats, count('beat')]).toEqual([2, 2])
  ticker.stop()
  vi.advanceTimersByTime(10_000)
  expect(ticks).toBe(51)
})

it('HoldSealer tries again after 2 s', async () => {
  let asked = 0
  const core = {
    ...{ recording: { folder: '/session', sync() {} }, log() {}, changed() {} },
    thread: {
      ask: async () => {
        asked++
        throw new Error('out of memory')
      },
    },
  }
  const sealer = new HoldSealer(core as never, () => false)
  sealer.add({ recording: 'a.lp', hold: 'h' } as HoldNote, null)
  await vi.advanceTimersByTimeAsync(1999)
  sealer.next()
  expect([asked, sealer.busy]).toEqual([1, true])
  await vi.advanceTimersByTimeAsync(1)
  sealer.next()
  expect(asked).toBe(2)
})

describe('SessionRecording', () => {
  it('tries to end a file that the disk refused again after a second', () => {
    const { folder, remove } = benchFolder()
    const session = join(folder, 'session')
    const recording = new SessionRecording(session)
    expect([recording.sizeBytes, recording.name]).toEqual([0, null])
    recording.comment('one')
    recording.rotate()
    mkdirSync(session)
    vi.advanceTimersByTime(1000)
    recording.comment('two')
    expect(readdirSync(session).length).toBeLessThan(2)
    vi.advanceTimersByTime(1)
    recording.comment('three')
    expect(recording.trouble).toBeNull()
    recording.sync()
    expect(recording.sizeBytes).toBeGreaterThan(0)
    recording.close()
    rmSync(session, { recursive: true })
    remove()
  })

  it.each([
    [63e6, 1800, false],
    [64e6, 1800, true],
    [64e6, 1795, false],
    [63e6, 90_000, false],
  ])(
    'IdleRecording with marks by hand and %i bytes, %i s after the last, ends it: %s',
    (sizeBytes, idleS, ends) => {
      const calls: unknown[] = []
      const recording = {
        sizeBytes,
        rotate: () => null,
        mark: (...given: unknown[]) => void calls.push(given),
      }
      const mark = {
        kind: 'work',
        id: 'F1',
        from: 'operator',
        timeNs: '7',
        timeS: 0,
        hold: null,
        fields: { a: 1 },
      }
      const marks = { since: (fromS: number) => (fromS < 0 ? [mark] : []) as never }
      const idle = new IdleRecording(recording, marks)
      idle.endWhenOld(0, Number.NEGATIVE_INFINITY)
      idle.endWhenOld(idleS, Number.NEGATIVE_INFINITY)
      expect(calls).toEqual(
        ends ? [[{ kind: 'work', id: 'F1', from: 'operator', fields: { a: 1 } }, 7n]] : [],
      )
    },
  )
})

describe('columns', () => {
  it('a channel keeps 262,144 readings in full, then the extremes of 64 and of 16 of the older', () => {
    const columns = new ChannelColumns()
    const fill = (until: number) => {
      for (let n = columns.count; n < until; n++) columns.append(n, n)
      return columns.since(0).timeS.length
    }
    expect(fill(262_144)).toBe(262_144)
    // The older half becomes pairs of 64.
    expect(fill(262_145)).toBe(131_073 + (2 * 131_072) / 64)
    const small = new ChannelColumns(128)
    for (let n = 0; n < 64 * 34 + 65; n++) small.append(n, n)
    // 32 pairs fill half of the bound: their older half keeps the extremes of every 16 readings, one pair of 8.
    expect(small.since(0).timeS.slice(0, 5)).toEqual(Float64Array.of(0, 511, 512, 1023, 1024))
  })
  it('a running hold keeps 262,144 readings of a channel, then means of pairs', () => {
    expect(readingsAtMost).toBe(262_144)
    const growing = new GrowingRecording(system, 'a.lp', '0')
    const timeS = Float64Array.from({ length: readingsAtMost }, (_, n) => n)
    growing.append({ p: { timeS: timeS.subarray(1), reading: timeS.subarray(1) } })
    expect(growing.recording([]).channels[0].timeS).toHaveLength(readingsAtMost - 1)
    growing.append({ p: { timeS: Float64Array.of(readingsAtMost), reading: Float64Array.of(0) } })
    const { timeS: means } = growing.recording([]).channels[0]
    expect([means.length, means[0]]).toEqual([readingsAtMost / 2, 1.5])
  })
})

describe('LiveChannels', () => {
  it.each([
    ['logger', 3],
    ['typed', 300],
  ])('a channel of the measurement %s is quiet after %i s', (measurement, afterS) => {
    const text = oneLine.replace('measurement: logger, field: p', `measurement: ${measurement}, field: p`)
    const live = new LiveChannels(systemFromFile(text, 'x.yaml'))
    live.sample('p', 0, 1)
    const quietS = () => live.newest()['p'].quietS
    vi.advanceTimersByTime(1000 * afterS)
    expect(quietS()).toBeNull()
    vi.advanceTimersByTime(10)
    expect(quietS()).toBeCloseTo(afterS + 0.01, 6)
  })
})

/** Marks that a person makes while a hold is sealed that lasted from its pump-up at 1000 s to its vent at 2000 s. */
function marksBeside(stages: object, running: object | null = null) {
  const text = oneLine.replace(
    'sections:',
    '  - { id: g, measures: gauge-pressure, places: [line, rig], from: { measurement: typed, field: g }, unit: psi }\nsections:',
  )
  const written: NewMark[] = []
  const sealed: object[] = []
  const core = {
    ...{ systemFile: { system: systemFromFile(text, 'x.yaml'), text }, speed: 1 },
    mark: (mark: NewMark) => void written.push(mark),
    marks: {
      unusedNs: (ns: bigint) => ns,
      at: (timeNs: string) => ({ kind: 'valve', id: 'V1', timeNs, timeS: 0, hold: null, fields: {} }),
    },
    archive: {
      list: ({ kind }: { kind: string }) => (kind === 'hold' ? [{ id: '0001-h' }] : []),
      get: () => ({ result: { hold: 'h', stages } }),
      seal: (draft: object) => void sealed.push(draft),
    },
  }
  return { marks: new OperatorMarks(core as never, { running } as never), written, sealed }
}

describe('OperatorMarks', () => {
  it('knows 2000 keys of marks that a phone sent, and takes an older one again', () => {
    let written = 0
    const core = {
      ...{ systemFile: { system, text: oneLine }, speed: 1, mark: () => void written++ },
      marks: { unusedNs: (ns: bigint) => ns },
    }
    const marks = new OperatorMarks(core as never, { running: {} } as never)
    const add = (key: number) => {
      const before = written
      marks.add({ kind: 'note', fields: { text: 'x' }, key: String(key) }, 0n)
      return written > before
    }
    for (let n = 0; n < 2000; n++) expect(add(n)).toBe(true)
    expect([add(0), add(1999)]).toEqual([false, false])
    expect([add(2000), add(1), add(0)]).toEqual([true, false, true])
  })

  const ns = (s: number) => String(s * 1e9)
  const stages = { pump_up_ns: ns(1000), hold_ns: ns(1500), vent_ns: ns(2000) }
  it.each([
    ['ten minutes before the pump-up', 400, stages, null, true],
    ['earlier', 399, stages, null, false],
    ['ten minutes after the vent', 2600, stages, null, true],
    ['later', 2601, stages, null, false],
    ['in the hold while another runs', 1700, stages, {}, false],
    [
      'ten minutes before a hold without a pump-up or a vent',
      900,
      { ...stages, pump_up_ns: null, vent_ns: null },
      null,
      true,
    ],
    ['earlier', 899, { ...stages, pump_up_ns: null, vent_ns: null }, null, false],
    ['beside a hold that never began', 1700, { pump_up_ns: null, hold_ns: null, vent_ns: null }, null, false],
  ])('seal a mark that is taken back with the hold that may rest on it: %s', (_, s, of, running, seals) => {
    const { marks, written, sealed } = marksBeside(of, running)
    marks.add({ kind: 'correction', id: 'V1', fields: { of: ns(s) } }, 3_000_000_000_000n)
    const correction = { kind: 'correction', from: 'operator', id: 'V1', fields: { of: ns(s) } }
    expect(written).toEqual([correction])
    expect(sealed).toMatchObject(
      seals
        ? [
            {
              kind: 'correction',
              corrects: '0001-h',
              result: { stillhold: 1, id: 'V1', time_ns: ns(3000), of: ns(s) },
            },
          ]
        : [],
    )
  })

  it('keep a zero for the gauge, wherever it is moved, and other marks as they name it', () => {
    const { marks, written } = marksBeside(stages)
    marks.add({ kind: 'zero', id: 'g@rig', fields: { reading: 3, true: 0 } }, 0n)
    marks.add({ kind: 'zero', id: 'p', fields: { reading: 3, true: 0 } }, 0n)
    marks.add({ kind: 'note', id: 'g@rig', fields: { text: 'x' } }, 0n)
    expect(written.map(({ id }) => id)).toEqual(['g', 'p', 'g@rig'])
  })
})

describe('BenchPort', () => {
  it.each([
    [8, true],
    [9, false],
    [11, true],
    [12, true],
    [13, false],
    [14, true],
    [31, true],
    [32, false],
    [126, false],
    [127, true],
    [200, true],
  ])('takes the byte %i for noise: %s', (byte, isNoise) => {
    const receiver = { point() {}, reject() {}, comment() {}, mark() {}, clockWrong() {}, say() {} }
    const port = { name: 'left', baudRate: 9600, setBaudRate() {}, async open() {}, async close() {} }
    const bench = new BenchPort({ port }, 2, receiver)
    bench.opened({ wallNs: 0n, monotonicNs: 0n })
    const codes = [100, 360].map((texts) => {
      bench.fix({ baudRate: 9600 })
      bench.heard(Buffer.concat([Buffer.alloc(texts, 'x'), Buffer.alloc(460 - texts, byte)]))
      return bench.state().trouble?.code
    })
    // Both have more than a tenth of the byte. Noise starts another rate, which forgets what was heard.
    expect(codes).toEqual(isNoise ? [undefined, undefined] : ['line-ends', 'line-ends'])
  })
})

describe('settled()', () => {
  const judged = (count: number, noisePa: number, bend: number) => {
    const timeS = Float64Array.from({ length: count }, (_, n) => (40 * n) / (count - 1))
    const gaugePa = timeS.map((t, n) => 5000 - t - bend * Math.max(0, t - 20) + noisePa * (n % 2 ? 1 : -1))
    return settled({ timeS, gaugePa }, 10, { settleS: 120, wasReady: false })
  }
  it('needs four readings in each of two spans', () => {
    expect([judged(8, 0, 0), judged(9, 0, 0)].map(({ nowPaPerS }) => nowPaPerS === null)).toEqual([
      true,
      false,
    ])
  })
  it('takes a bend of three standard uncertainties of its noise for none', () => {
    // Noise of 100 Pa in 80 readings over 20 s: 1.94 Pa/s for each slope (the fit of a line), 8.2 Pa/s for three of both.
    expect([judged(161, 100, 7.4).ready, judged(161, 100, 9.1).ready]).toEqual([true, false])
  })
})

describe('startChecks()', () => {
  const said = (reading: number, unit = 'psi', sends: string | null = null, measures = 'gauge-pressure') => {
    const text = oneLine.replace('unit: psi', `unit: ${unit}`).replace('gauge-pressure', measures)
    const own = systemFromFile(text, 'x.yaml')
    const spec: HoldSpec = { ...own.holds[0], pressurePa: 1000 * onePsi }
    const [one] = startChecks(spec, own, {
      newest: { p: { timeS: 0, reading, quietS: null } },
      unitOf: ({ id }: Channel) => (id === 'p' ? sends : null),
      figures: figuresIn(unitsOfSystem(own)),
      isPlaced: () => true,
    })
    return one.message
  }
  it.each([
    [30.5, false],
    [30.7, true],
    [-0.5, false],
    [-0.7, true],
  ])('of %f psi on a gauge of 0 to 30 psi, read to 2 %% beyond: outside its span: %s', (psi, isOutside) => {
    expect(said(psi * onePsi).includes('outside its span')).toBe(isOutside)
  })
  it('takes the standard atmosphere where no barometer is, and blocks what no atmosphere has', () => {
    expect(said(100_000, 'psi', null, 'absolute-pressure')).toBe('')
    expect(said(130_000, 'psi', null, 'absolute-pressure')).toContain(
      'and the atmosphere is about 14.7 psi: vent the section.',
    )
  })
  it('compares the unit that a logger writes with that of the file, gauge and absolute', () => {
    expect(said(0, 'kPa', 'psi')).toBe('p: the logger sends psi, the system file says kPa. Write unit: psi.')
    expect(said(0, 'hPa', 'mbar')).toBe('')
    expect(said(0, 'psi', 'psia')).toBe(
      'p: the logger sends psia, the system file says psi and gauge-pressure. Write measures: absolute-pressure.',
    )
    expect(said(100_000, 'psi', 'psig', 'absolute-pressure')).toBe(
      'p: the logger sends psig, the system file says psi, and absolute-pressure.',
    )
  })
})

describe('BenchSession', () => {
  it('hands the analysis the readings of the last minute before a hold, and of none before the last hold', async () => {
    vi.useRealTimers()
    const fed = await fedSession()
    fed.feed(100, 0)
    const tell = vi.spyOn(fed.session.core.thread, 'tell')
    fed.session.startHold({
      hold: 'h',
      operator: null,
      witness: null,
      stateSheet: ['plugged', 'vented'],
      retests: null,
    })
    const appended = () => {
      const [, columns] = tell.mock.calls.findLast(([kind]) => kind === 'append')!
      const { timeS } = (columns as Record<string, { timeS: Float64Array }>).p
      return [timeS[0], timeS.length]
    }
    expect(appended()).toEqual([39, 61])
    expect(fed.recorded()).toContain('mark,kind=note text="checked: plugged; vented" ')
    fed.session.enterStage('end')
    expect(await until(() => !fed.session.controller.sealing)).toBe(true)
    fed.feed(10, 0)
    fed.session.startHold({ hold: 'h', operator: null, witness: null, stateSheet: [], retests: null })
    // The last hold ended at 99 s and a nanosecond: two marks have times of their own.
    expect(appended()).toEqual([100, 10])
    await fed.close()
  })

  it('tells a jump of this computer’s clock for a minute, and for as long as a hold runs', async () => {
    vi.useRealTimers()
    vi.useFakeTimers({ toFake: ['performance'] })
    const fed = await fedSession()
    const { recording } = fed.session.core
    fed.feed(3, 0)
    const codes = () => fed.session.state().alarms.map(({ code, message }) => [code, message])
    expect(codes()).toEqual([])
    recording.clockJump = { seconds: -40, atMs: performance.now() }
    const told = ['clock-jump', jumpMessage('this computer', -40)]
    vi.advanceTimersByTime(59_999)
    expect(codes()).toEqual([told])
    vi.advanceTimersByTime(1)
    expect(codes()).toEqual([])
    fed.feed(1, 0)
    fed.session.startHold({ hold: 'h', operator: null, witness: null, stateSheet: [], retests: null })
    expect(codes()).toEqual([told])
    expect(told[1]).toBe(
      'The clock of this computer jumped back by 40.0 s: a hold that was running proves nothing.',
    )
    recording.onClockJump(7, fed.session.core.startNs! + 2_000_000_000n)
    expect(fed.said.at(-1)).toBe(jumpMessage('this computer', 7))
    expect(fed.session.core.marks.since(0).at(-1)).toMatchObject({
      kind: 'clock',
      timeS: 2,
      fields: { jump_s: 7 },
    })
    const mark: NewMark = { kind: 'note', fields: { text: 'sun' } }
    fed.session.mark(mark)
    recording.onTrouble('the disk is full')
    expect(fed.session.state().hold?.broken).toBe('the recording failed: the disk is full')
    expect(fed.recorded()).toContain(
      'kind=fault code="interrupted",text="the recording failed: the disk is full" ',
    )
    recording.onTrouble('again')
    expect(fed.session.state().hold?.broken).toBe('the recording failed: the disk is full')
    await fed.close()
  })
})
