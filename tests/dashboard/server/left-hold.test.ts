import { existsSync, readFileSync, writeFileSync } from 'node:fs'
import { join } from 'node:path'
import { afterEach, describe, expect, it, vi } from 'vitest'
import type { Recording } from '#analysis/model/samples.ts'
import type { HoldNote } from '#dashboard/server/session/hold-note.ts'
import { HoldNoteFile, photosOf } from '#dashboard/server/session/hold-note.ts'
import { InterruptedHold } from '#dashboard/server/session/interrupted-hold.ts'
import { systemFromFile } from '#ingest/system-file/read-system-file.ts'
import { fedSession, oneLine, startNs } from './fed-session.ts'
import { benchFolder } from './open-bench.ts'

const at = (s: number) => String(startNs + BigInt(s) * 1_000_000_000n)
afterEach(() => {
  vi.useRealTimers()
})

describe('a hold that an earlier program left', () => {
  const note = (changes: Partial<HoldNote> = {}): HoldNote => ({
    ...{ stillhold_running: 1, hold: 'h', stage: 'hold', recording: 'left.lp', systemText: oneLine },
    ...{ operator: 'A. B.', witness: null, stateSheet: [], retests: null },
    begun: { 'pump-up': at(5), settle: at(10), hold: at(50) },
    ...changes,
  })
  const recording = [
    '# stillhold recording 1',
    ...Array.from({ length: 61 }, (_, s) => `logger p=${s < 5 ? 0 : 10},t=20 ${at(s)}`),
    '',
  ].join('\n')
  const left =
    (changes: Partial<HoldNote>, text: string | null = recording) =>
    (folder: string) => {
      writeFileSync(join(folder, 'running-hold.json'), JSON.stringify(note(changes)))
      if (text !== null) writeFileSync(join(folder, 'left.lp'), text)
    }

  /** What becomes of a hold that was left: what the session is told to do, and its words. */
  function resumed(changes: Partial<HoldNote>, text: string | null = recording, sealed: object[] = []) {
    const { folder, remove } = benchFolder()
    left(changes, text)(folder)
    const calls: unknown[][] = []
    const call =
      (name: string) =>
      (...given: unknown[]) =>
        void calls.push([name, ...given])
    const core = {
      ...{ note: new HoldNoteFile(folder), archive: { evidence: () => sealed }, mark: call('mark') },
      ...{ recording: { folder, continue: call('continue') }, log: call('log'), adopt: call('adopt') },
      systemFile: { text: oneLine, system: systemFromFile(oneLine, 'x.yaml') },
    }
    const controller = { sealer: { add: call('seal') }, resume: call('resume'), interrupt: call('interrupt') }
    const interrupted = new InterruptedHold(core as never, controller as never)
    interrupted.resume()
    const isLeft = existsSync(join(folder, 'running-hold.json'))
    remove()
    return { interrupted, calls, isLeft }
  }

  it.each([
    ['without its recording', {}, null, 'its recording left.lp is missing'],
    [
      'under another system file',
      { systemText: 'other' },
      recording,
      'the system file has been changed since',
    ],
    [
      'that had ended',
      { stage: 'vent' as const, begun: { ...note().begun, vent: at(60), end: at(60) } },
      recording,
      'it had ended and was not sealed yet',
    ],
  ])('%s is sealed as it is', (_, changes, text, reason) => {
    const why = `the hold h ended with the program: ${reason}`
    const { calls, isLeft, interrupted } = resumed(changes, text)
    expect(calls).toEqual([
      ['log', why],
      ['seal', note(changes), why],
    ])
    expect(isLeft).toBe(true)
    interrupted.arrived(startNs)
    expect(calls).toHaveLength(2)
  })

  it('that was sealed already leaves only its note, which is removed', () => {
    const other = { recording: { name: 'other.lp' } }
    const { calls, isLeft } = resumed({}, recording, [
      other,
      { recording: null },
      { recording: { name: 'left.lp' } },
    ])
    expect([calls, isLeft]).toEqual([[], false])
    expect(resumed({}, recording, [other]).calls).not.toEqual([])
  })

  it.each([
    ['hold', {}],
    ['vent', { stage: 'vent' as const, begun: { ...note().begun, vent: at(55) } }],
  ])('in its %s waits for the logger and marks the gap once', (_, changes) => {
    const { calls, interrupted } = resumed(changes)
    expect(calls.map(([name]) => name)).toEqual(['continue', 'adopt', 'resume', 'log'])
    expect(calls[0]).toEqual(['continue', 'left.lp'])
    expect(calls[3][1]).toBe(
      'the hold h was running when the program ended: waiting for the logger to continue',
    )
    interrupted.arrived(BigInt(at(64)))
    const text = 'the program was restarted; nothing was recorded for 4.0 s'
    expect(calls.slice(4)).toEqual([['mark', { kind: 'gap', fields: { seconds: 4, text } }, BigInt(at(64))]])
    interrupted.arrived(BigInt(at(65)))
    expect(calls).toHaveLength(5)
  })

  it.each([
    [180, 'mark', '120.0'],
    [181, 'interrupt', '121.0'],
    [60, 'mark', '0.0'],
    [59, 'interrupt', '-1.0'],
  ])('goes on where the first reading is 120 s later at most, and not earlier: at %i s', (s, name, told) => {
    const { calls, interrupted } = resumed({})
    interrupted.arrived(BigInt(at(s)))
    expect(calls.slice(4).map((call) => call[0])).toEqual([name])
    const text = `the program was restarted; nothing was recorded for ${told} s`
    if (name === 'interrupt') expect(calls[4]).toEqual(['interrupt', text, BigInt(at(60))])
  })

  it('begins nothing where the system file has it no more', async () => {
    const fed = await fedSession()
    const recording = { name: 'left.lp', startNs: at(0) } as Recording
    fed.session.controller.resume(note({ hold: 'none' }), recording)
    expect([fed.session.controller.running, fed.session.core.thread.running]).toEqual([null, false])
    fed.session.controller.resume(note(), recording)
    expect([fed.session.controller.running?.spec.id, fed.session.core.thread.running]).toEqual(['h', true])
    await fed.close()
  })

  it('ends where no reading comes for 120 s', () => {
    vi.useFakeTimers({ toFake: ['setTimeout', 'clearTimeout'] })
    const { calls, interrupted } = resumed({})
    vi.advanceTimersByTime(119_999)
    expect(calls).toHaveLength(4)
    vi.advanceTimersByTime(1)
    expect(calls.slice(4)).toEqual([['interrupt', 'no reading for 120 s after a restart', BigInt(at(60))]])
    interrupted.arrived(BigInt(at(61)))
    expect(calls).toHaveLength(5)
    const heard = resumed({})
    heard.interrupted.arrived(BigInt(at(61)))
    vi.advanceTimersByTime(200_000)
    expect(heard.calls).toHaveLength(5)
  })

  it('HoldNoteFile keeps, sets aside and removes its note, and refuses one that is damaged', () => {
    const { folder, remove } = benchFolder()
    const file = new HoldNoteFile(folder)
    expect(file.read()).toBeNull()
    file.clear()
    file.write(note())
    expect(file.read()).toEqual(note())
    file.setAside(note())
    expect([
      existsSync(file.path),
      JSON.parse(readFileSync(join(folder, 'unsealed-left.lp.json'), 'utf8')),
    ]).toEqual([...[false, note()]])
    for (const [key, value] of [
      ['recording', '../left.lp'],
      ['recording', 'a/b.lp'],
      ['photos', ['../a.jpg']],
      ['stage', 'end'],
      ['begun', { hold: 'yesterday' }],
      ['begun', { hold: '5x' }],
      ['stillhold_running', 2],
    ] as const) {
      writeFileSync(file.path, JSON.stringify({ ...note(), [key]: value }))
      expect(() => file.read()).toThrow(
        expect.objectContaining({
          message: expect.stringMatching(/cannot be read: move it away; the recording beside it is kept$/),
          cause: expect.any(Error),
        }),
      )
    }
    writeFileSync(join(folder, 'a.jpg'), 'x')
    expect(photosOf(folder, ['a.jpg'])).toEqual([{ name: 'a.jpg', bytes: Buffer.from('x') }])
    remove()
  })
})
