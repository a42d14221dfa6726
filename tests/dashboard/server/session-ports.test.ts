import { afterEach, beforeEach, describe, expect, it, vi } from 'vitest'
import type { PortState } from '#dashboard/api.ts'
import { SessionPorts } from '#dashboard/server/session/session-ports.ts'
import type { PortListener } from '#ingest/sources/port.ts'

const receiver = { point() {}, reject() {}, comment() {}, mark() {}, clockWrong() {}, say() {} }
const overHttp = (lines: number, silentS: number | null): PortState => ({
  ...{ name: 'http', open: true, dialect: 'line-protocol', confirmed: true, fault: null },
  ...{ lines, silentS, rejected: 0, missing: 0 },
})
const alarms = (state: PortState) => {
  const ports = new SessionPorts([], 1, () => receiver)
  ports.addOther(() => state)
  return ports.alarms()
}

describe('SessionPorts.alarms() of loggers that write over HTTP', () => {
  it('misses one that wrote and has fallen silent, as it misses one at a port', () => {
    expect(alarms(overHttp(40, 16))).toEqual([
      { code: 'logger-silent', message: expect.stringMatching(/^http has received nothing for 16 s: /) },
    ])
  })

  it('bears the ten seconds that such loggers wait by themselves, and misses none that never wrote', () => {
    expect(alarms(overHttp(40, 10))).toEqual([])
    expect(alarms(overHttp(0, null))).toEqual([])
  })
})

describe('SessionPorts', () => {
  function made(...names: string[]) {
    let changes = 0
    const listeners = new Map<string, PortListener>()
    const ports = names.map((name) => ({
      tags: { port: name },
      port: { name, open: async (one: PortListener) => void listeners.set(name, one), close: async () => {} },
    }))
    const session = new SessionPorts(
      ports,
      2,
      () => receiver,
      () => void changes++,
    )
    const arrival = () => ({ wallNs: 0n, monotonicNs: process.hrtime.bigint() })
    const hear = (name: string, line: string) =>
      listeners.get(name)!.bytes(Buffer.from(`${line}\n`), arrival())
    return { session, listeners, arrival, hear, changes: () => changes }
  }
  beforeEach(() => {
    vi.useFakeTimers({ toFake: ['hrtime'] })
  })
  afterEach(() => {
    vi.useRealTimers()
  })

  it('miss a port that sends nothing for more than 5 s, from its opening or its last line on', async () => {
    const { session, listeners, arrival, hear } = made('left')
    await session.open()
    const codes = () => session.alarms().map(({ code, message }) => `${code}: ${message}`)
    listeners.get('left')!.opened(arrival())
    const silent = 'logger-silent: left has sent nothing for 5 s: check the logger’s power and its cable.'
    for (let n = 0; n < 2; n++) {
      vi.advanceTimersByTime(4990)
      expect(codes()).toEqual([])
      vi.advanceTimersByTime(20)
      expect(codes()).toEqual([silent])
      hear('left', 'logger p=1')
      expect(codes()).toEqual([])
    }
    const there = { code: 'open-failed' as const, message: 'left is not there' }
    for (const fault of [there, { ...there, code: 'unplugged' as const }]) {
      listeners.get('left')!.fault(fault, arrival())
      expect(codes()).toEqual(['logger-unplugged: left is not there'])
    }
    listeners.get('left')!.opened(arrival())
    expect(codes()).toEqual([])
    listeners.get('left')!.fault({ code: 'silent', message: 'left is silent' }, arrival())
    expect(codes()[0]).toMatch(/^logger-silent: /)
  })

  it('miss a logger over HTTP after 15 s', () => {
    const { session } = made()
    let silentS = 15
    session.addOther(() => ({
      ...{ name: 'http', open: true, dialect: 'line-protocol', confirmed: true, fault: null },
      ...{ lines: 4, silentS, rejected: 0, missing: 0 },
    }))
    expect(session.alarms()).toEqual([])
    // One that never wrote is not shown.
    session.addOther(() => overHttp(0, null))
    silentS = 15.4
    expect(session.alarms()).toEqual([
      {
        code: 'logger-silent',
        message: 'http has received nothing for 15 s: check the logger and its network.',
      },
    ])
    expect(session.list()).toHaveLength(1)
  })

  it('confirm and change a port by its name, and know no other', async () => {
    const { session, hear, changes } = made('left', 'right')
    await session.open()
    hear('right', 'logger p=1')
    expect(session.confirm('right').map(({ name, confirmed }) => [name, confirmed])).toEqual([
      ['left', false],
      ['right', true],
    ])
    expect(changes()).toBe(1)
    for (const ask of [() => session.confirm('none'), () => session.fix('none', {})])
      expect(ask).toThrow(expect.objectContaining({ status: 404, message: 'There is no port none.' }))
    for (const [setting, message] of [
      [{ baudRate: 9600 }, 'left has no baud rate.'],
      [{ columns: ['p'] }, 'left does not send 1 columns: name each one once, in their order.'],
    ] as const)
      expect(() => session.fix('left', setting)).toThrow(expect.objectContaining({ status: 409, message }))
    expect(session.fix('left', {})).toHaveLength(2)
    expect(changes()).toBe(2)
  })

  it('know the unit that a logger writes, of two loggers that of the named one', async () => {
    const { session, hear } = made('left', 'right')
    await session.open()
    const from = (port?: string) =>
      ({ from: { measurement: 'logger', field: 'p', tags: port ? { port } : {} } }) as never
    expect(session.unitOf(from('left'))).toBeNull()
    for (let n = 0; n < 5; n++) {
      hear('left', `p=${n}.1 kPa`)
      hear('right', `p=${n}.2 psi`)
    }
    expect([session.unitOf(from('left')), session.unitOf(from('right')), session.unitOf(from())]).toEqual([
      ...['kPa', 'psi', null],
    ])
    const one = made('left')
    await one.session.open()
    for (let n = 0; n < 5; n++) one.hear('left', `p=${n}.1 kPa`)
    expect(one.session.unitOf(from())).toBe('kPa')
  })
})
