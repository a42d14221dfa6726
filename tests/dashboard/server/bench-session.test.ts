import { existsSync, mkdirSync, readFileSync, rmSync } from 'node:fs'
import { join } from 'node:path'
import { afterEach, beforeEach, describe, expect, it, vi } from 'vitest'
import type { NewMark, StartHold } from '#dashboard/api.ts'
import type { BenchSession } from '#dashboard/server/session/bench-session.ts'
import { fedSessions, oneLine, onePsi } from './fed-session.ts'
import { until } from './until.ts'

const open = fedSessions()
type Fed = Awaited<ReturnType<typeof open>>
beforeEach(() => {
  vi.useFakeTimers({ toFake: ['performance'] })
})
afterEach(() => {
  vi.useRealTimers()
})

const order = (hold = 'h'): StartHold => ({
  hold,
  operator: null,
  witness: null,
  stateSheet: [],
  retests: null,
})
const note: NewMark = { kind: 'note', fields: { text: 'sun on the wing' } }
const refusal = (ask: () => unknown): [number, string] | null => {
  try {
    ask()
    return null
  } catch (error) {
    const { status, message } = error as { status: number; message: string }
    return [status, message]
  }
}
const noReading = 'No reading has arrived yet: connect the logger first.'
const idle = (fed: Fed) => until(() => !fed.session.controller.sealing)
const stageOf = ({ session }: { session: BenchSession }) => session.state().hold?.stage ?? 'idle'
const nsOf = ({ session }: Fed, kind: string) =>
  session.state().marks.findLast((mark) => mark.kind === kind)!.ns

describe('BenchSession refuses, with the status that the page understands,', () => {
  it('what needs a reading, before the first', async () => {
    const { session } = await open()
    expect(refusal(() => session.startHold(order()))).toEqual([409, noReading])
    expect(refusal(() => session.mark(note))).toEqual([503, noReading])
    expect(refusal(() => session.enterStage('settle'))).toEqual([409, 'No hold is running: start one first.'])
    expect([session.nowS, session.state().recording]).toEqual([null, null])
  })

  it('what does not fit the hold that runs, or that none runs', async () => {
    const fed = await open({ aircraft: 'X-YZ' })
    const { session } = fed
    fed.feed(5, 0)
    expect(refusal(() => session.startHold(order('none')))).toEqual([
      ...[404, 'The system file has no hold none: choose one of its holds.'],
    ])
    expect(refusal(() => session.startHold(order('barred')))![0]).toBe(409)
    expect(refusal(() => session.startHold(order('barred')))![1]).toMatch(/^barred is not planned: /)
    expect(refusal(() => session.mark({ ...note, aircraft: 'A-BC' }))).toEqual([
      ...[503, 'This mark is for A-BC, but X-YZ is at the bench.'],
    ])
    expect(refusal(() => session.mark({ ...note, aircraft: 'X-YZ' }))).toBeNull()
    expect(refusal(() => session.controller.photo(null, new Uint8Array(1)))).toEqual([
      ...[409, 'No hold is running: photos belong to a hold.'],
    ])
    expect(refusal(() => session.controller.answerLost('vented'))).toEqual([
      ...[409, 'There is no pressure loss to explain.'],
    ])
    expect(refusal(() => session.typed({ p: 1 }))).toEqual([
      ...[409, 'This bench is simulated: it takes no typed readings.'],
    ])
    session.startHold(order())
    expect(refusal(() => session.controller.answerLost('vented'))![0]).toBe(409)
    expect(refusal(() => session.controller.start(order(), 'operator'))).toEqual([
      ...[409, 'The hold h is running: end it first.'],
    ])
    expect(refusal(() => session.changeSystem(oneLine))).toEqual([
      ...[409, 'A hold is running: the system file can be changed when it is sealed.'],
    ])
    fed.feed(5, 4.9)
    expect(refusal(() => session.enterStage('settle'))).toEqual([
      ...[409, 'Cannot settle yet: the gauge is under half of the test pressure. Pump up first.'],
    ])
    fed.feed(1, 5.1)
    expect(refusal(() => session.enterStage('hold'))).toEqual([
      ...[409, 'Cannot start hold now: after pump-up comes settle or vent or end, not hold.'],
    ])
    for (let n = 0; n < 40; n++) session.controller.photo('F1', new Uint8Array(1))
    expect(refusal(() => session.controller.photo('F1', new Uint8Array(1)))).toEqual([
      ...[409, 'This hold already has the maximum number of photos.'],
    ])
    session.enterStage('end')
    // Sealing has begun and takes a moment.
    expect(refusal(() => session.controller.start(order(), 'operator'))).toEqual([
      ...[409, 'The last hold is being sealed: wait a moment.'],
    ])
    expect(refusal(() => session.changeSystem(oneLine))![0]).toBe(409)
    await idle(fed)
    expect(session.changeSystem(oneLine)).toMatchObject({ saved: true, errors: [] })
    expect(session.changeSystem('name: x')).toMatchObject({ saved: false, system: null })
  })

  it('a hold whose gauge stands far from zero, with what is wrong', async () => {
    const fed = await open()
    fed.feed(5, 5)
    const [status, message] = refusal(() => fed.session.startHold(order()))!
    expect([status, message]).toEqual([409, expect.stringMatching(/^p reads 5 psi before the pump-up/)])
    expect(fed.session.checks('none')).toEqual([])
  })

  it('a hold, a mark and a typed reading while the disk takes nothing', async () => {
    const fed = await open()
    rmSync(fed.sessionFolder, { recursive: true })
    fed.feed(5, 0)
    const trouble = fed.session.core.recording.trouble!
    expect(trouble).toMatch(/^cannot open the recording/)
    expect(refusal(() => fed.session.controller.start(order(), 'operator'))).toEqual([507, trouble])
    expect(refusal(() => fed.session.mark(note))).toEqual([507, trouble])
    expect(fed.session.state().alarms).toEqual([{ code: 'disk-full', message: trouble }])
    await fed.session.close()
    expect(fed.said).toEqual([trouble, `the session ends with unsaved lines: ${trouble}`])
  })

  it('typed readings of a channel that a logger reads', async () => {
    const fed = await open({ speed: 1 })
    const message = (id: string) => `The system file has no channel ${id} from the measurement typed.`
    expect(refusal(() => fed.session.typed({ p: 1 }))).toEqual([404, message('p')])
    expect(refusal(() => fed.session.typed({ none: 1 }))).toEqual([404, message('none')])
  })
})

describe('BenchSession.state()', () => {
  it('of a session without a reading has nothing but what it is', async () => {
    const nothing = {
      ...{ version: '0.0.0-test', systemName: 'one line', systemChanges: 0, speed: 2, nowS: null },
      ...{ recording: null, newest: {}, hold: null, last: null, alarms: [], marks: [] },
      ...{ recordingStartNs: null, sealing: false },
    }
    const { ports, ...state } = (await open()).session.state()
    expect(state).toEqual({ ...nothing, demo: false })
    expect(ports).toHaveLength(1)
    const { session } = await open({ demo: true, aircraft: 'X-YZ' })
    session.demoOperator = () => ({ who: 'you', says: 'x' })
    expect(session.state()).toMatchObject({
      ...nothing,
      ...{ demo: true, aircraft: 'X-YZ', demoOperator: { who: 'you', says: 'x' } },
    })
  })
})

describe('BenchSession keeps', () => {
  it('the photos of a hold as marks, and in the note that survives a kill; what says that the section is wet', async () => {
    const fed = await open()
    fed.feed(3, 0)
    fed.session.startHold({ ...order(), dry: false })
    fed.session.controller.photo('F1', new Uint8Array(1))
    fed.session.controller.photo(null, new Uint8Array(1))
    const text = fed.recorded()
    expect(text).toMatch(/^mark,kind=stage,from=operator,hold=h name="pump-up",dry=false /m)
    const photos = [...text.matchAll(/^mark,kind=note(,id=F1)? text="photo",photo="([\w.-]+)" /gm)]
    expect(photos.map(([, id]) => id)).toEqual([',id=F1', undefined])
    const note = JSON.parse(readFileSync(join(fed.sessionFolder, 'running-hold.json'), 'utf8'))
    expect(note.photos).toEqual(photos.map(([, , name]) => name))
    expect(note.photos.every((name: string) => existsSync(join(fed.sessionFolder, name)))).toBe(true)
  })

  it('a hold that runs though its note cannot be written, and says so', async () => {
    const fed = await open()
    fed.feed(3, 0)
    mkdirSync(join(fed.sessionFolder, 'running-hold.json'))
    fed.session.startHold(order())
    expect(stageOf(fed)).toBe('pump-up')
    expect(fed.said).toEqual([
      expect.stringMatching(/running-hold\.json.*; after a restart the running hold could not continue$/),
    ])
    expect(fed.recorded()).toMatch(/^mark,kind=stage,from=operator,hold=h name="pump-up" /m)
  })
})

describe('BenchSession takes back', () => {
  it('the stage that began last, for 12 s, and neither another nor the one before it as well', async () => {
    const fed = await open()
    fed.feed(3, 0)
    fed.pumpUp()
    const settleNs = nsOf(fed, 'stage')
    const takeBack = (of: string) => refusal(() => fed.session.mark({ kind: 'correction', fields: { of } }))
    const pumpUpNs = fed.session.state().marks.find(({ kind }) => kind === 'stage')!.ns
    expect(takeBack(pumpUpNs)).toEqual([409, 'Only the stage that began last can be taken back.'])
    vi.advanceTimersByTime(12_001)
    const tooLate = [409, 'A stage can be taken back for 10 s only. Continue, or give up the hold.']
    expect(takeBack(settleNs)).toEqual(tooLate)
    expect(stageOf(fed)).toBe('settle')
    fed.session.enterStage('vent')
    vi.advanceTimersByTime(11_999)
    expect(takeBack(nsOf(fed, 'stage'))).toBeNull()
    expect(takeBack(settleNs)).toEqual(tooLate)
    expect([stageOf(fed), fed.session.state().hold?.stageStartedS]).toEqual(['settle', 7])
  })

  it('no captured zero, no mark of the program, and none that it does not know', async () => {
    const fed = await open()
    fed.feed(3, 0)
    fed.session.mark({ kind: 'zero', id: 'p', fields: { reading: 100, true: 0 } })
    const takeBack = (of: string) => refusal(() => fed.session.mark({ kind: 'correction', fields: { of } }))
    expect(takeBack(nsOf(fed, 'zero'))).toEqual([
      ...[409, 'A captured zero cannot be taken back: capture the zero again.'],
    ])
    fed.session.core.mark({ kind: 'gap', fields: { seconds: 3 } }, fed.session.core.clock.nowNs()! + 1n)
    expect(takeBack(nsOf(fed, 'gap'))).toEqual([409, 'The program made this mark: it cannot be taken back.'])
    expect(takeBack('5')).toEqual([404, 'This mark is no longer available: it is in an earlier recording.'])
  })

  it('marks of things that the system file does not have, by 404', async () => {
    const fed = await open()
    fed.feed(3, 0)
    const mark = (given: NewMark) => refusal(() => fed.session.mark(given))
    for (const kind of ['work', 'look'] as const) {
      const message = 'The system file names no F9: choose a fitting, valve or section.'
      expect(mark({ kind, id: 'F9', fields: {} })).toEqual([404, message])
    }
    expect(mark({ kind: 'work', fields: {} })).toEqual([
      ...[404, 'The system file names no id: choose a fitting, valve or section.'],
    ])
    expect(mark({ kind: 'place', id: 'gauge', fields: { section: 'line' } })).toEqual([
      ...[404, 'The system file has no movable gauge (gauge): see places of its channels.'],
    ])
    for (const cure of ['soon', '-1 h'])
      expect(mark({ kind: 'work', id: 'F1', fields: { action: 'reseal', cure } })).toEqual([
        ...[400, `Cure time "${cure}": write a time with its unit, such as 24 h.`],
      ])
    expect(
      mark({ kind: 'work', id: 'F1', fields: { action: 'reseal', cure: '2 h', by: 'O. P.' } }),
    ).toBeNull()
    const { result, operator } = fed.archive.get('1')
    expect(result).toMatchObject({
      stillhold: 1,
      id: 'F1',
      section: 'line',
      action: 'reseal',
      from: 'operator',
    })
    expect(operator).toBe('O. P.')
    const { time_ns, cured_time_ns } = result as Readonly<Record<string, string>>
    expect(BigInt(cured_time_ns) - BigInt(time_ns)).toBe(7_200_000_000_000n)
  })
})

/** The curve of a tight line: noise-free would look like a gauge that answers nothing. */
const tight = (s: number) => 10 + 0.0005 * Math.sin(7.3 * s)

describe('BenchSession runs a hold', () => {
  async function held() {
    const fed = await open()
    fed.feed(20, 0)
    fed.pumpUp()
    for (let s = 0; s < 300 && stageOf(fed) === 'settle'; s++) fed.read(tight(s))
    expect(stageOf(fed)).toBe('hold')
    return fed
  }

  it('from settling to the hold when the countdown is over, and from a vent to its end after ten seconds', async () => {
    const fed = await held()
    // 18 s show the trend of the two spans of 15 s each; the countdown ends with the settle time at the earliest.
    const { stageStartedS, stageLengthS } = fed.session.state().hold!
    expect([stageStartedS >= 24 + 30, stageLengthS]).toEqual([true, 60])
    fed.feed(70, tight)
    expect(stageOf(fed)).toBe('hold')
    fed.session.enterStage('vent')
    fed.feed(3, 0.5)
    expect(stageOf(fed)).toBe('vent')
    fed.feed(12, 0.5)
    expect(stageOf(fed)).toBe('idle')
    await idle(fed)
    const [{ id, verdict }] = fed.archive.list()
    expect([id, fed.session.state().last?.record, verdict]).toEqual(['0001-h', id, expect.any(String)])
    expect(
      fed
        .recorded()
        .match(/kind=stage.* name="[\w-]+"/g)
        ?.map((one) => /name="(.*)"/.exec(one)![1]),
    ).toEqual([...['pump-up', 'settle', 'hold', 'vent', 'end']])
  })

  it.each([
    [0.7, 'the hangar closes'],
    [0.5, null],
  ])(
    'vented %f s before its time: early from 1 percent of it on, with the reason %j',
    async (leftS, reason) => {
      const fed = await held()
      const beganS = fed.session.state().hold!.stageStartedS
      fed.feed(59, tight)
      fed.read(10, beganS + 60 - leftS - (fed.session.nowS ?? 0))
      fed.session.enterStage('vent', 'the hangar closes')
      const told = /kind=stage.* name="vent"(?:,reason="(.*)")? /.exec(fed.recorded())
      expect(told?.[1] ?? null).toBe(reason)
    },
  )

  it('whose pressure is lost asks the operator, and takes each answer as what it means', async () => {
    for (const [answer, stage, mark] of [
      [
        'vented',
        'vent',
        /mark,kind=note text="pressure of line lost: vented without a mark, the operator says" (\d+)/,
      ],
      [
        'let-go',
        'vent',
        /mark,kind=fault code="pressure-lost",text="pressure of line lost: a joint let go, the operator says" (\d+)/,
      ],
      [
        'unknown',
        'vent',
        /mark,kind=fault code="pressure-lost",text="pressure of line lost: the operator does not know why" (\d+)/,
      ],
      [
        'still-holding',
        'hold',
        /mark,kind=note text="pressure of line lost: it still holds pressure, the operator says, and the hold goes on" (\d+)/,
      ],
    ] as const) {
      const fed = await held()
      fed.feed(5, tight)
      fed.read(6)
      const { lost } = fed.session.state().hold!
      expect(lost).toMatchObject({ section: 'line', toPa: expect.closeTo(6 * onePsi, 0) })
      expect(lost!.fromPa).toBeCloseTo(10 * onePsi, -2)
      expect(fed.session.state().alarms.map(({ code }) => code)).toEqual(['pressure-fell'])
      const lostNs = String(fed.session.core.startNs! + BigInt(Math.round(lost!.atS * 1e9)))
      fed.feed(3, 6)
      expect(stageOf(fed)).toBe('hold')
      fed.session.controller.answerLost(answer)
      expect([stageOf(fed), fed.session.state().hold!.lost]).toEqual([stage, null])
      expect(mark.exec(fed.recorded())?.[1]).toBe(lostNs)
      // A vent without a mark began when the drop was seen, any other now.
      const ventNs = /kind=stage.* name="vent" (\d+)/.exec(fed.recorded())?.[1]
      const nowNs = String(fed.session.core.clock.nowNs())
      expect(ventNs).toBe(
        { vented: lostNs, 'let-go': nowNs, unknown: nowNs, 'still-holding': undefined }[answer],
      )
    }
  })
})
