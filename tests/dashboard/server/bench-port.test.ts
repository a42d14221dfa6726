import { describe, expect, it } from 'vitest'
import type { ClockFields } from '#dashboard/server/session/clocks.ts'
import { BenchPort } from '#dashboard/server/session/session-ports.ts'

/** A port whose logger sends a line each second of its own clock, as heard at our times. */
function heard(pointS: (ourS: number) => number, seconds: number) {
  const wrong: ClockFields[] = []
  const said: string[] = []
  const receiver = {
    ...{ point() {}, reject() {}, comment() {}, mark() {} },
    clockWrong: (fields: ClockFields) => void wrong.push(fields),
    say: (line: string) => void said.push(line),
  }
  const port = new BenchPort({ port: { name: 'left', async open() {}, async close() {} } }, 1, receiver)
  const arrival = (ourS: number) => ({ wallNs: 0n, monotonicNs: BigInt(ourS) * 1_000_000_000n })
  port.opened(arrival(0))
  for (let ourS = 0; ourS < seconds; ourS++) {
    const timeNs = 1767225600000000000n + BigInt(Math.round(pointS(ourS) * 1e9))
    port.bytes(Buffer.from(`logger p3=10.02 ${timeNs}\n`), arrival(ourS))
  }
  return { port, wrong, said }
}

describe('BenchPort, whose logger stamps its own lines', () => {
  it('marks a clock that runs a tenth fast, in every half minute, and has an alarm of it', () => {
    const { port, wrong } = heard((ourS) => 1.1 * ourS, 300)
    expect(wrong).toHaveLength(6)
    expect(wrong[0]).toMatchObject({ port: 'left', text: expect.stringContaining('10 % fast') })
    expect(port.alarms()).toContainEqual(expect.objectContaining({ code: 'clock-jump' }))
  })

  it('marks a jump once, and is content with a clock that is right', () => {
    const { wrong } = heard((ourS) => (ourS < 150 ? ourS : ourS + 40), 300)
    expect(wrong.map((fields) => 'seconds' in fields && fields.seconds)).toEqual([40])
    expect(heard((ourS) => ourS, 300).wrong).toEqual([])
  })

  it('says on the terminal what is wrong with it, once until the logger was heard again', () => {
    const { port, said } = heard((ourS) => ourS, 3)
    const arrival = { wallNs: 0n, monotonicNs: 4_000_000_000n }
    const gone = { code: 'unplugged' as const, message: 'left was unplugged' }
    const there = { code: 'open-failed' as const, message: 'left is not there' }
    for (const fault of [gone, there, there, there]) port.fault(fault, arrival)
    expect(said).toEqual([gone.message, there.message])
    port.bytes(Buffer.from('logger p3=10.02\n'), arrival)
    port.fault(there, arrival)
    expect(said).toHaveLength(3)
  })
})
