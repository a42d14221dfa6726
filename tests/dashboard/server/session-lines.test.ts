import { readFileSync } from 'node:fs'
import { afterEach, describe, expect, it, vi } from 'vitest'
import { LiveChannels, LiveZeros } from '#dashboard/server/session/live-channels.ts'
import { SystemFileOnDisk } from '#dashboard/server/session/system-file-on-disk.ts'
import { arrivalNow } from '#ingest/sources/arrival-now.ts'
import { systemFromFile } from '#ingest/system-file/read-system-file.ts'
import { fedSessions, oneLine, startNs } from './fed-session.ts'
import { benchFolder } from './open-bench.ts'

const open = fedSessions()
type Fed = Awaited<ReturnType<typeof open>>
afterEach(() => {
  vi.useRealTimers()
})
const at = (s: number) => String(startNs + BigInt(s) * 1_000_000_000n)
const stage = (name: string, s: number, hold = 'h') => `mark,kind=stage,hold=${hold} name="${name}" ${at(s)}`
const stageOf = ({ session }: Fed) => session.state().hold?.stage ?? 'idle'

describe("stage marks in a logger's lines, as in a replay,", () => {
  it('are followed in their order, and nothing starts by itself', async () => {
    const stages: string[] = []
    const fed = await open({ onStage: (name, hold) => void stages.push(`${name} of ${hold}`) })
    fed.feed(5, 0)
    fed.line(stage('settle', 5))
    expect(stageOf(fed)).toBe('idle')
    fed.line(stage('pump-up', 6))
    fed.line(stage('hold', 7))
    expect(stageOf(fed)).toBe('pump-up')
    fed.line(stage('settle', 8))
    fed.feed(200, 10)
    expect(stageOf(fed)).toBe('settle')
    fed.line(stage('hold', 210))
    expect(fed.session.state().hold).toMatchObject({ stage: 'hold', stageStartedS: 209 })
    fed.line(stage('pump-up', 211))
    fed.line(stage('vent', 212))
    fed.feed(30, 0)
    expect(stageOf(fed)).toBe('vent')
    expect(stages).toEqual(['pump-up of h', 'settle of h', 'hold of h', 'vent of h'])
    // The recording says that the logger made them.
    expect(fed.recorded().match(/^mark,kind=stage,hold=h,from=logger /gm)).toHaveLength(7)
  })

  it('begin no hold that the system file has not, or leaves open', async () => {
    const fed = await open()
    fed.feed(5, 0)
    for (const line of [
      stage('pump-up', 5, 'none'),
      stage('pump-up', 6).replace(',hold=h', ''),
      stage('rest', 7),
    ])
      fed.line(line)
    fed.line(stage('pump-up', 8).replace('kind=stage', 'kind=note'))
    expect(stageOf(fed)).toBe('idle')
    const only = oneLine.replace(/ {2}- \{ id: barred.*\n/, '')
    const one = await open({}, only)
    one.feed(5, 0)
    one.line(stage('pump-up', 6).replace(',hold=h', ''))
    expect(one.session.state().hold?.hold).toBe('h')
  })
})

describe('lines of a session', () => {
  it('are forwarded as recorded, with the marks of the program and of people', async () => {
    const lines: string[] = []
    const fed = await open({ forward: (line) => void lines.push(line) })
    fed.feed(1, 0)
    fed.session.mark({ kind: 'look', id: 'F1', fields: { finding: 'dry' } })
    fed.line(stage('settle', 3))
    expect(lines.map((line) => line.replace(/ \d{19}$/, ''))).toEqual([
      'logger p=0.00000,t=20.00',
      'mark,kind=look,id=F1,from=operator finding="dry"',
      'mark,kind=stage,hold=h,from=logger name="settle"',
    ])
  })

  it('keep a mark of the logger that cannot be written with its maker as a comment', async () => {
    const fed = await open()
    fed.feed(1, 0)
    const fields = [{ key: 'n', type: 'float', value: Number.NaN }] as const
    const mark = { measurement: 'mark', tags: { kind: 'note' }, fields, timeNs: at(3) }
    fed.session.core.point(mark, 'mark,kind=note n=nan', arrivalNow())
    expect(fed.recorded()).toMatch(/^#! a mark that cannot be written: mark,kind=note n=nan$/m)
    expect(fed.session.state().marks).toEqual([])
  })

  it('list each number with its channel, for the page that sets channels up', async () => {
    const fed = await open()
    fed.feed(1, 2)
    fed.line(`logger x=7 ${at(2)}`)
    expect(fed.session.core.fields().map(({ field, raw, channel }) => [field, raw, channel])).toEqual([
      ['p', 2, 'p'],
      ['t', 20, 't'],
      ['x', 7, null],
    ])
  })

  it('tell a clock that jumped back, and start its time anew', async () => {
    const fed = await open()
    fed.feed(1, 0)
    const receiver = fed.session.core.receiver(null)
    expect(receiver.isTaken?.('p')).toBe(true)
    expect(receiver.isTaken?.('q')).toBe(false)
    receiver.clockWrong({ port: 'left', seconds: 5, text: 'jumped forward' }, startNs)
    expect(fed.session.nowS).not.toBeNull()
    receiver.clockWrong({ port: 'left', fast_percent: 3, text: 'fast' }, startNs)
    expect(fed.session.nowS).not.toBeNull()
    receiver.clockWrong({ port: 'left', seconds: -5, text: 'jumped back' }, startNs)
    expect(fed.session.nowS).toBeNull()
    expect(fed.recorded().match(/kind=clock .*text="([\w ]+)"/g)).toHaveLength(3)
    receiver.mark({ kind: 'gap', fields: { seconds: 3 }, timeNs: startNs + 9n }, arrivalNow())
    expect(fed.recorded()).toContain(`mark,kind=gap seconds=3 ${startNs + 9n}`)
  })
})

describe('bounds and parts', () => {
  it('SystemFileOnDisk.change() keeps the old text where the new one is wrong, and tells 100 errors at most', () => {
    const { systemPath, remove } = benchFolder()
    const file = new SystemFileOnDisk(systemPath)
    const before = file.text
    const wrong = `stillhold: 1\nname: x\nsections:\n${'  - { id: s, medium: mud }\n'.repeat(150)}`
    const { system, errors, text } = file.change(wrong)
    expect([system, errors.length, text]).toEqual([null, 100, wrong])
    expect([file.text, file.changes, readFileSync(systemPath, 'utf8')]).toEqual([before, 0, before])
    expect(file.change(oneLine)).toEqual({ text: oneLine, system: file.system, errors: [] })
    expect([file.changes, file.system.name, readFileSync(systemPath, 'utf8')]).toEqual([
      1,
      'one line',
      oneLine,
    ])
    remove()
  })

  it('LiveZeros keeps the newest 1000 of more than 2000 captures', () => {
    const system = systemFromFile(oneLine, 'x.yaml')
    const zeros = new LiveZeros()
    for (let n = 0; n <= 2000; n++) {
      const fields = { reading: 100 + n / 100, true: 0 }
      zeros.add({ timeNs: String(n), timeS: n, kind: 'zero', id: 'p', hold: null, fields })
    }
    const zeroAt = (timeS: number) => 5000 - zeros.one(system.channels[0], timeS, 5000)
    for (const [timeS, zero] of [
      [999.5, 0],
      [1000.5, 110],
      [1001.5, 110.01],
      [3000, 120],
    ] as const)
      expect(zeroAt(timeS)).toBeCloseTo(zero, 9)
  })

  it('LiveChannels takes an absolute gauge less the atmosphere of the barometer, and before it the standard one', () => {
    const text = oneLine
      .replace('gauge-pressure', 'absolute-pressure')
      .replace(
        'sections:',
        '  - { id: baro, measures: barometric-pressure, from: { measurement: logger, field: b }, unit: hPa }\nsections:',
      )
    const live = new LiveChannels(systemFromFile(text, 'x.yaml'))
    live.sample('p', 0, 150_000)
    // ICAO Doc 7488: 101,325 Pa.
    expect(live.standing(['line', 'rig', 'none'])).toMatchObject([
      { gaugePa: 150_000 - 101_325, absolutePa: 150_000 },
    ])
    live.sample('baro', 0, 90_000)
    expect(live.standing(['line'])).toMatchObject([
      { section: 'line', gaugePa: 60_000, absolutePa: 150_000, temperatureK: null },
    ])
    live.sample('t', 0, 290)
    expect(live.standing(['line'])[0].temperatureK).toBe(290)
    expect([live.gaugeSince('rig', 0), live.gaugeSince('line', 0)?.gaugePa]).toEqual([
      null,
      Float64Array.of(60_000),
    ])
    // A thermometer has no pressure: as one it would stand far below the limit of suction.
    const suction = systemFromFile(
      text.replace('max-pressure: 20 psi', 'max-pressure: 20 psi, max-vacuum: 1 psi'),
      'x.yaml',
    )
    const warm = new LiveChannels(suction)
    warm.sample('t', 0, 290)
    expect(warm.alarms()).toEqual([])
    live.sample('none', 0, 1)
    expect(Object.keys(live.newest())).toEqual(['p', 't', 'baro'])
  })
})
