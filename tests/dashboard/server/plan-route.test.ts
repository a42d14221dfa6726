import { readFileSync } from 'node:fs'
import { afterAll, beforeAll, describe, expect, it } from 'vitest'
import type { System } from '#analysis/model/system.ts'
import { planHold } from '#analysis/plan/plan-hold.ts'
import type { RunningBench } from '#dashboard/server/start-bench.ts'
import { systemFromFile } from '#ingest/system-file/read-system-file.ts'
import { ask, send } from './ask.ts'
import { benchFolder, openBench } from './open-bench.ts'

const at = benchFolder()
let bench: RunningBench
let system: System
beforeAll(async () => {
  system = systemFromFile(readFileSync(at.systemPath, 'utf8'), 'aircraft.yaml')
  bench = await openBench(at)
})
afterAll(async () => {
  await bench.stop()
  at.remove()
})

describe('POST /api/plan, over HTTP against the real app', () => {
  it('answers other requests while it rehearses: a state asked for after it comes before it', async () => {
    const order: string[] = []
    const planned = send(bench.server.port, '/api/plan', { hold: 'left-tank-1psi' }).then((answer) => {
      order.push('plan')
      return answer
    })
    const state = ask(bench.server.port, { path: '/api/state' }).then(() => order.push('state'))
    await Promise.all([planned, state])
    expect(order).toEqual(['state', 'plan'])
    const answer = await planned
    expect(answer.status).toBe(200)
    expect(answer.json()).toEqual(JSON.parse(JSON.stringify(planHold(system, 'left-tank-1psi'))))
  })

  it('words its advice in the units asked for: 3 psi of span are 20.7 kPa (NIST SP 811)', async () => {
    const plan = async (units: string) => {
      const path = `/api/plan?units=${units}`
      const answer = await send(bench.server.port, path, { hold: 'left-tank-1psi' })
      return [answer.status, answer.text] as const
    }
    expect((await plan('kPa,degF'))[1]).toContain('at most 3 times the test pressure: 20.7 kPa.')
    expect((await plan(''))[1]).toContain('at most 3 times the test pressure: 3 psi.')
    expect(await plan('furlong')).toEqual([400, expect.stringContaining('unknown unit \\"furlong\\"')])
  })

  it('rehearses again after the file was changed: a plan of the old one is not handed out', async () => {
    const text = readFileSync(at.systemPath, 'utf8')
    const plan = async () =>
      (await send(bench.server.port, '/api/plan', { hold: 'left-tank-1psi' })).json() as object
    const before = await plan()
    const save = (changed: string) =>
      send(bench.server.port, '/api/system', { text: changed }, { method: 'PUT' })
    await save(text.replaceAll('    hold: 20 min', '    hold: 25 min'))
    expect(await plan()).not.toEqual(before)
    await save(text)
    expect(await plan()).toEqual(before)
  })

  it('knows no hold that the file has not: 404 and its name', async () => {
    const answer = await send(bench.server.port, '/api/plan', { hold: 'no-such-hold' })
    expect(answer.status).toBe(404)
    expect(answer.text).toContain('no-such-hold')
  })
})
