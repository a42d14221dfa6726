import { afterEach, beforeEach, describe, expect, test } from 'vitest'
import { Intake } from '#ingest/intake/intake.ts'
import type { Port } from '#ingest/sources/port.ts'
import { listSerialPorts, serialPort } from '#ingest/sources/serial-port.ts'
import { Heard } from './heard.ts'
import { hasSocat, PseudoTerminal, until } from './pseudo-terminal.ts'

const where = hasSocat ? '' : ' (skipped: socat is not installed)'

describe.skipIf(!hasSocat)(`serialPort on a real pseudo-terminal${where}`, () => {
  let line: PseudoTerminal
  let heard: Heard
  let intake: Intake
  let port: Port
  const opened: Port[] = []

  async function open(options: { silenceS?: number } = {}): Promise<void> {
    port = serialPort({ path: line.path, baudRate: 115200, name: 'bench', ...options })
    opened.push(port)
    heard = new Heard()
    intake = new Intake({ port: port.name, sink: heard, joinsMidLine: port.joinsMidLine })
    await port.open(intake)
  }

  beforeEach(async () => {
    line = new PseudoTerminal()
    await line.plug()
  })
  afterEach(async () => {
    for (const each of opened.splice(0)) await each.close()
    await line.remove()
  })

  const values = () => heard.points.map((point) => /p1=([\d.]+)/.exec(point)?.[1])

  test('lines come through whole, CRLF and all, garbage as rejects', async () => {
    await open()
    line.write('logger p1=1\r\nlogger p1=2\r\nlogger p1=101.325000.2\r\n\0\0logger p1=9\nlogger p1=3\n')
    await until(() => heard.points.length === 3)
    expect(values()).toEqual(['1', '2', '3'])
    expect(heard.rejects).toHaveLength(2)
  })

  test('unplugged and back in mid-line: opened again, and the half line stays half', async () => {
    await open()
    line.write('logger p1=1\nlogger p1=2\nlogger p1=101')
    await until(() => heard.points.length === 2)
    await line.unplug()
    await until(() => heard.faults.length === 1)
    expect(intake.state(0n)).toMatchObject({
      open: false,
      fault: expect.stringMatching(/^bench was unplugged/),
    })
    await line.plug()
    await until(() => intake.state(0n).open)
    line.write('3.25\nlogger p1=4\nlogger p1=5\n')
    await until(() => heard.points.length === 4)
    expect(values()).toEqual(['1', '2', '4', '5'])
    expect(heard.rejects[0]).toBe('half line at the end of the connection: logger p1=101')
    expect(heard.rejects[1]).toMatch(/: 3\.25$/)
    expect(heard.faults).toEqual(['unplugged'])
    expect(heard.marks.filter(({ kind }) => kind === 'gap')).toHaveLength(1)
    expect(intake.state(0n).fault).toBeNull()
  })

  test('a logger that resets in mid-stream is a fault mark and its boot message no sample', async () => {
    await open()
    line.write('logger seq=7i,p1=1\nlogger seq=8i,p1=2\n')
    line.write('rst:0x1 (POWERON_RESET),boot:0x13\r\n\xff\xfe\r\nlogger seq=0i,p1=3\n')
    await until(() => heard.points.length === 3)
    expect(heard.faults).toEqual(['logger-reset'])
    expect(heard.rejects).toHaveLength(2)
  })

  test('silence is a fault, the port is opened again and the logger heard once it speaks', async () => {
    await open({ silenceS: 0.2 })
    line.write('logger p1=1\nlogger p1=2\n')
    await until(() => heard.marks.some(({ kind }) => kind === 'gap'))
    line.write('logger p1=3\nlogger p1=4\n')
    await until(() => heard.points.length === 4)
    expect(heard.faults[0]).toBe('silent')
  })

  test('a stream without line ends is cut at 64 kB and kept, memory stays bounded', async () => {
    await open()
    line.write('logger p1=1\nlogger p1=2\n')
    await until(() => heard.points.length === 2)
    line.write(`${'x'.repeat(200_000)}\nlogger p1=3\n`)
    await until(() => heard.points.length === 3)
    expect(heard.faults).toEqual(['line-too-long'])
    expect(heard.rejects.map((text) => text.replace(/^line too long: /, '')).join('')).toBe(
      'x'.repeat(200_000),
    )
  })

  test('close passes on the half line and frees the port', async () => {
    await open()
    line.write('logger p1=1\nlogger p1=2\nlogger p1=3')
    await until(() => heard.points.length === 2)
    await port.close()
    expect(heard.rejects).toEqual(['half line at the end of the connection: logger p1=3'])
    await open()
    line.write('logger p1=4\nlogger p1=5\n')
    await until(() => heard.points.length === 2)
    expect(values()).toEqual(['4', '5'])
  })

  test('a port that another reader holds is refused in one plain sentence', async () => {
    await open()
    const second = serialPort({ path: line.path, baudRate: 115200 })
    opened.push(second)
    await expect(second.open(new Intake({ port: 'second', sink: new Heard() }))).rejects.toThrow(
      /another program has it open/,
    )
  })

  test('points of two ports at once differ by the tag of the port', async () => {
    const other = new PseudoTerminal()
    await other.plug()
    try {
      heard = new Heard()
      for (const [name, path] of [
        ['a', line.path],
        ['b', other.path],
      ]) {
        const each = serialPort({ path, baudRate: 115200, name })
        opened.push(each)
        await each.open(new Intake({ port: name, sink: heard, joinsMidLine: true, tags: { port: name } }))
      }
      line.write('logger p1=1\nlogger p1=1\n')
      other.write('logger p1=2\nlogger p1=2\n')
      await until(() => heard.points.length === 4)
      expect(new Set(heard.points.map((point) => point.slice(0, 18)))).toEqual(
        new Set(['logger,port=a p1=1', 'logger,port=b p1=2']),
      )
    } finally {
      for (const each of opened.splice(0)) await each.close()
      await other.remove()
    }
  })
})

describe('serialPort', () => {
  test('open of a missing port reports it and states what to do', async () => {
    const heard = new Heard()
    const port = serialPort({ path: '/dev/no-such-logger', baudRate: 9600 })
    await expect(port.open(new Intake({ port: port.name, sink: heard }))).rejects.toThrow(
      '/dev/no-such-logger: no such port; plug the logger in and see `stillhold record --port list`',
    )
    expect(heard.faults).toEqual(['open-failed'])
  })
})

describe('listSerialPorts', () => {
  test.runIf(process.platform === 'linux')('without udevadm, it states in one line what to do', async () => {
    const path = process.env['PATH']
    process.env['PATH'] = '/nowhere'
    try {
      await expect(listSerialPorts()).rejects.toThrow(
        'the serial ports cannot be listed: listing needs udev (`udevadm`), which is not installed; name the port, such as --port /dev/ttyUSB0',
      )
    } finally {
      process.env['PATH'] = path
    }
  })
})
