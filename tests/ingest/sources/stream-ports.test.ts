import { mkdtempSync, rmSync, writeFileSync } from 'node:fs'
import type { AddressInfo } from 'node:net'
import { createServer, type Server, type Socket } from 'node:net'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { PassThrough } from 'node:stream'
import { afterEach, beforeEach, describe, expect, test } from 'vitest'
import { Intake } from '#ingest/intake/intake.ts'
import type { Port } from '#ingest/sources/port.ts'
import { replayPort } from '#ingest/sources/replay-port.ts'
import { standardInput } from '#ingest/sources/standard-input.ts'
import { tcpPort } from '#ingest/sources/tcp-port.ts'
import { Heard } from './heard.ts'
import { until } from './pseudo-terminal.ts'

function listen(port: Port) {
  const heard = new Heard()
  const intake = new Intake({ port: port.name, sink: heard, joinsMidLine: port.joinsMidLine })
  const values = () => heard.points.map((point) => /p1=([\d.]+)/.exec(point)?.[1])
  return { heard, intake, values }
}

describe('tcpPort', () => {
  let server: Server
  let sockets: Socket[]
  let number: number
  const start = (port: number) =>
    new Promise<void>((resolve) => {
      server = createServer((socket) => {
        socket.on('error', () => undefined)
        sockets.push(socket)
      })
      server.listen(port, '127.0.0.1', resolve)
    })
  const stop = async () => {
    for (const socket of sockets) socket.destroy()
    await new Promise((resolve) => server.close(resolve))
  }
  beforeEach(async () => {
    sockets = []
    await start(0)
    number = (server.address() as AddressInfo).port
  })
  afterEach(stop)

  test('open reads the lines of a TCP server, and reconnects when it disconnects', async () => {
    const port = tcpPort({ host: '127.0.0.1', port: number })
    const { heard, intake, values } = listen(port)
    await port.open(intake)
    try {
      await until(() => sockets.length === 1)
      sockets[0].write('logger p1=1\nlogger p1=2\nlogger p1=101')
      await until(() => heard.points.length === 2)
      sockets[0].destroy()
      await until(() => sockets.length === 2)
      sockets[1].write('3.25\nlogger p1=3\nlogger p1=4\n')
      await until(() => heard.points.length === 4)
      expect(values()).toEqual(['1', '2', '3', '4'])
      expect(heard.faults).toEqual(['unplugged'])
      expect(heard.rejects.map((text) => text.split(': ')[1])).toEqual(['logger p1=101', '3.25'])
    } finally {
      await port.close()
    }
  })
  test('open without an answer reports it and states what to check', async () => {
    await stop()
    const port = tcpPort({ host: '127.0.0.1', port: number })
    await expect(port.open(listen(port).intake)).rejects.toThrow(
      /^tcp 127\.0\.0\.1:\d+: no logger answers there \(.*ECONNREFUSED.*\); check address and port$/,
    )
    await start(number)
  })
  test('open with waitForDevice retries until the logger is there', async () => {
    await stop()
    const port = tcpPort({ host: '127.0.0.1', port: number, waitForDevice: true })
    const { heard, intake } = listen(port)
    await port.open(intake)
    try {
      expect(heard.faults).toEqual(['open-failed'])
      sockets = []
      await start(number)
      await until(() => sockets.length === 1)
      sockets[0].write('logger p1=1\nlogger p1=2\n')
      await until(() => heard.points.length === 2)
    } finally {
      await port.close()
    }
  })
})

describe('standardInput', () => {
  test('open reads whole lines and keeps the rest without a line end', async () => {
    const input = new PassThrough()
    const port = standardInput(input)
    const { heard, intake, values } = listen(port)
    await port.open(intake)
    input.end('logger p1=1\nlogger p1=2\nlogger p1=3')
    await until(() => !intake.state(0n).open)
    expect(values()).toEqual(['1', '2'])
    expect(heard.rejects).toEqual(['half line at the end of the connection: logger p1=3'])
  })
})

describe('replayPort', () => {
  let folder: string
  beforeEach(() => {
    folder = mkdtempSync(join(tmpdir(), 'replay-'))
  })
  afterEach(() => rmSync(folder, { recursive: true }))
  const write = (text: string | Uint8Array) => {
    const path = join(folder, 'hold.lp')
    writeFileSync(path, text)
    return path
  }
  const startNs = 1767225600000000000n
  const line = (seconds: number) => `logger p1=${seconds} ${startNs + BigInt(seconds) * 1_000_000_000n}`

  test('open without a speed limit gives every line unchanged, with marks and rejects', async () => {
    const lines = Array.from({ length: 5000 }, (_, i) => line(i))
    const mark = `mark,kind=note text="sun on the wing" ${startNs}`
    const port = replayPort({
      path: write(`# stillhold recording 1\n${mark}\n#! not a number: x\n${lines.join('\n')}\n`),
      speed: Number.POSITIVE_INFINITY,
    })
    const { heard, intake } = listen(port)
    await port.open(intake)
    await until(() => !intake.state(0n).open)
    expect(heard.points).toEqual([mark, ...lines])
    expect(heard.rejects).toEqual(['not a number: x'])
  })
  test('open at speed 100 lets 30 recorded seconds take at least 0.3 s', async () => {
    const port = replayPort({
      path: write(`${Array.from({ length: 31 }, (_, i) => line(i)).join('\n')}\n`),
      speed: 100,
    })
    const { heard, intake } = listen(port)
    const started = performance.now()
    await port.open(intake)
    await until(() => !intake.state(0n).open)
    expect(heard.points).toHaveLength(31)
    expect(performance.now() - started).toBeGreaterThanOrEqual(299)
  })
  test('open of a recording with a cut last line makes no sample of the rest', async () => {
    const port = replayPort({
      path: write(`${line(1)}\nlogger p1=2 17672256`),
      speed: Number.POSITIVE_INFINITY,
    })
    const { heard, intake } = listen(port)
    await port.open(intake)
    await until(() => !intake.state(0n).open)
    expect(heard.points).toEqual([line(1)])
    expect(heard.rejects).toHaveLength(1)
  })
  test('close during a pause ends at once', async () => {
    const port = replayPort({ path: write(`${line(0)}\n${line(3600)}\n`), speed: 1 })
    const { heard, intake } = listen(port)
    await port.open(intake)
    await until(() => heard.points.length === 1)
    await port.close()
    expect(intake.state(0n).open).toBe(false)
    expect(heard.points).toHaveLength(1)
  })
  test('open of a missing file reports it', async () => {
    const port = replayPort({ path: join(folder, 'none.lp'), speed: 1 })
    await expect(port.open(listen(port).intake)).rejects.toThrow(/none\.lp: no such file$/)
  })
  test('replayPort at speed 0 throws a RangeError', () => {
    expect(() => replayPort({ path: 'x', speed: 0 })).toThrow(RangeError)
  })
})
