import { readFileSync, statSync } from 'node:fs'
import { join } from 'node:path'
import { beforeEach, describe, expect, it, vi } from 'vitest'
import { readRecording } from '#ingest/recording/read-recording.ts'
import { openRecording } from '#ingest/recording/recording-writer.ts'
import { systemFromFile } from '#ingest/system-file/read-system-file.ts'
import { emptyFolder } from '#tests/empty-folder.ts'
import { clocks, second, start } from './clocks.ts'
import { contractSystem } from './contract-system.ts'
import { linesOf } from './lines-of.ts'

const system = systemFromFile(contractSystem, 'plane.yaml')

let folder: string
beforeEach(() => {
  folder = emptyFolder()
})

describe('openRecording writes', () => {
  it('openRecording(new) begins with the header; points, marks, comments and rejects follow in order', () => {
    const path = join(folder, 'a.lp')
    const { clock, pass } = clocks()
    const writer = openRecording(path, { clock })
    writer.append('logger,port=a p1=10.2,t1=20 1767225600000000000')
    pass(second)
    writer.append({ measurement: 'logger', tags: { port: 'a' }, fields: { p1: 10.1, t1: 20 }, timeNs: null })
    writer.mark({ kind: 'stage', hold: 'left-feed-10psi', fields: { name: 'hold' } })
    writer.mark({ kind: 'work', id: 'F07', fields: { action: 'retighten', torque_Nm: 14.1 } })
    writer.reject('half line at unplug', Buffer.from('10.\u00e9\0\\', 'utf8'))
    writer.comment('# firmware 1.2')
    writer.close()
    expect(linesOf(path)).toEqual([
      '# stillhold recording 1',
      'logger,port=a p1=10.2,t1=20 1767225600000000000',
      'logger,port=a p1=10.1,t1=20 1767225601000000000',
      'mark,kind=stage,hold=left-feed-10psi name="hold" 1767225601000000001',
      'mark,kind=work,id=F07 action="retighten",torque_Nm=14.1 1767225601000000002',
      '#! half line at unplug: 10.\u00e9\\x00\\\\',
      '# firmware 1.2',
      '',
    ])
    const { channels, marks, rejectedLines } = readRecording(readFileSync(path), system, 'a.lp')
    expect([channels[0].timeS.length, marks.length, rejectedLines]).toEqual([2, 2, 1])
  })

  it('mark(…) is in the file when it returns, with all earlier lines', () => {
    const path = join(folder, 'a.lp')
    const writer = openRecording(path, clocks())
    writer.append('logger p1=1 1767225600000000000')
    expect(linesOf(path)).toHaveLength(2)
    writer.mark({ kind: 'note', fields: { text: 'door opened,\nsun on the wing' } })
    expect(linesOf(path)[2]).toMatch(/^mark,kind=note text="door opened, sun on the wing" \d{19}$/)
    // A point has a field at least (InfluxDB line protocol).
    writer.mark({ kind: 'note', id: 'F07', fields: {} })
    expect(linesOf(path)[3]).toMatch(/^mark,kind=note,id=F07 text="" \d{19}$/)
    expect(readRecording(readFileSync(path), system, 'a.lp').marks).toHaveLength(2)
    writer.close()
  })

  it('append(…) reaches the file without another call', async () => {
    const path = join(folder, 'a.lp')
    const writer = openRecording(path, clocks())
    writer.append('logger p1=1 1767225600000000000')
    expect(linesOf(path)).toHaveLength(2)
    await vi.waitFor(() => expect(linesOf(path)).toHaveLength(3), { timeout: 60_000 })
    writer.close()
  })

  it('append(lines without time) gives strictly increasing times although both clocks are stopped', () => {
    const path = join(folder, 'a.lp')
    const writer = openRecording(path, clocks())
    for (let k = 0; k < 5; k++) writer.append(`logger p1=${k}`)
    writer.close()
    const times = linesOf(path)
      .slice(1, 6)
      .map((line) => BigInt(line.split(' ')[2]))
    expect(times).toEqual([0n, 1n, 2n, 3n, 4n].map((ns) => start + ns))
  })

  it.each([
    ['forward: times follow it', 60n * second, 61n * second],
    ['back: times continue', -60n * second, second],
  ])('a clock set %s, and a clock mark says by how much', (_, jumpNs, afterNs) => {
    const path = join(folder, 'a.lp')
    const { clock, pass, jump } = clocks()
    const writer = openRecording(path, { clock })
    writer.append('logger p1=1')
    pass(second)
    jump(jumpNs)
    writer.append('logger p1=2')
    writer.close()
    const { marks } = readRecording(readFileSync(path), system, 'a.lp')
    expect(marks).toHaveLength(1)
    expect(marks[0]).toMatchObject({ kind: 'clock', fields: { jump_s: Number(jumpNs) / 1e9 } })
    expect(BigInt(marks[0].timeNs)).toBe(start + afterNs)
    expect(linesOf(path)[3]).toBe(`logger p1=2 ${start + afterNs + 1n}`)
  })

  it('a clock that drifts by less than half a second between lines makes no mark', () => {
    const path = join(folder, 'a.lp')
    const { clock, pass, jump } = clocks()
    const writer = openRecording(path, { clock })
    for (let k = 0; k < 10; k++) {
      writer.append('logger p1=1')
      pass(second)
      jump(400_000_000n)
    }
    writer.close()
    expect(linesOf(path).filter((line) => line.startsWith('mark'))).toEqual([])
  })

  it.each([
    [500_000_000n, []],
    [-500_000_000n, []],
    [500_000_001n, [0.500000001]],
    [-500_000_001n, [-0.500000001]],
  ])('a clock set by %i ns is told when it is more than half a second: %j', (jumpNs, seconds) => {
    const { clock, pass, jump } = clocks()
    const told: [number, bigint][] = []
    const onClockJump = (s: number, timeNs: bigint) => told.push([s, timeNs])
    const path = join(folder, 'a.lp')
    const writer = openRecording(path, { clock, onClockJump })
    writer.append('logger p1=1')
    pass(second)
    jump(jumpNs)
    // The lines of one chunk share their arrival: the jump is told once.
    const arrival = clock()
    for (let n = 0; n < 3; n++) writer.append('logger p1=2', arrival)
    writer.keep(() => {})
    writer.close()
    expect(told.map(([s]) => s)).toEqual(seconds)
    const at = start + second + (jumpNs > 0n && seconds.length > 0 ? jumpNs : 0n)
    expect(told.map(([, timeNs]) => timeNs)).toEqual(seconds.map(() => at))
    const marks = linesOf(path).filter((line) => line.startsWith('mark'))
    const words = seconds.map(
      (s) => `text="the clock jumped by ${s.toFixed(3)} s: it was set, or the computer slept"`,
    )
    expect(marks).toEqual(words.map((text, n) => `mark,kind=clock jump_s=${seconds[n]},${text} ${at}`))
  })

  it('keep(…) after a clock jump keeps the mark of the jump although its lines are refused', () => {
    const { clock, pass, jump } = clocks()
    const path = join(folder, 'a.lp')
    const writer = openRecording(path, { clock })
    writer.append('logger p1=1')
    pass(second)
    jump(60n * second)
    expect(() => writer.keep(() => writer.append('logger p1=1', null as never))).toThrow(TypeError)
    writer.close()
    expect(linesOf(path)[2]).toMatch(/^mark,kind=clock/)
  })

  it.each([
    'logger p1=1 1767225600000000007',
    'logger p1=1 -5',
    'logger p1=1 0',
    'logger p1=1 1767225600000000007  ',
    'logger s="at 5 bar" 7',
  ])('append(%s) keeps the time that the line has', (line) => {
    const path = join(folder, 'a.lp')
    const writer = openRecording(path, clocks())
    writer.append(line)
    writer.close()
    expect(linesOf(path)[1]).toBe(line)
  })

  it.each(['logger p1=1', 'logger s="at 5 bar"', 'logger s="at 5"', 'logger s="5 - 5",p=12i'])(
    'append(%s) gives the line its arrival time',
    (line) => {
      const path = join(folder, 'a.lp')
      const writer = openRecording(path, clocks())
      writer.append(line)
      writer.close()
      expect(linesOf(path)[1]).toBe(`${line} ${start}`)
    },
  )

  it.each([
    ['# boot', '# boot'],
    ['boot', '# boot'],
    ['#! rejected: x', '# ! rejected: x'],
    ['a\r\n#! b\0\x7f', '# a #! b '],
    ['a\tb', '# a\tb'],
  ])('comment(%j) is one line that is no rejected one: %j', (text, line) => {
    const path = join(folder, 'a.lp')
    const writer = openRecording(path, clocks())
    writer.comment(text)
    writer.close()
    expect(linesOf(path)).toEqual(['# stillhold recording 1', line, ''])
  })

  it('mark(…) writes its maker, hold and id where it has them, and its own time', () => {
    const path = join(folder, 'a.lp')
    const writer = openRecording(path, clocks())
    writer.mark({ kind: 'note', id: null, hold: null, fields: { n: 1n } })
    writer.mark({
      kind: 'note',
      id: 'F07',
      hold: 'h',
      from: 'device',
      fields: { a: ' x \r\n y ' },
      timeNs: 7n,
    })
    writer.mark({ kind: 'note', fields: { a: true } }, { wallNs: start + 5n, monotonicNs: 5_005n })
    const { size } = statSync(path)
    expect([writer.sizeBytes, writer.name, writer.path]).toEqual([size, 'a.lp', path])
    writer.close()
    expect(linesOf(path).slice(1)).toEqual([
      `mark,kind=note n=1i ${start}`,
      'mark,kind=note,from=device,hold=h,id=F07 a=" x y " 7',
      `mark,kind=note a=true ${start + 5n}`,
      '',
    ])
  })
})
