import { describe, expect, it } from 'vitest'
import type { PortState } from '#dashboard/api.ts'
import { SessionPorts } from '#dashboard/server/session/session-ports.ts'

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
