import { readFileSync } from 'node:fs'
import { afterAll, beforeAll, describe, expect, it } from 'vitest'
import type { System } from '#analysis/model/system.ts'
import { planHold } from '#analysis/plan/plan-hold.ts'
import { KeptPlans } from '#dashboard/server/session/kept-plans.ts'
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

  it('knows no hold that the file has not: 404 and its name', async () => {
    const answer = await send(bench.server.port, '/api/plan', { hold: 'no-such-hold' })
    expect(answer.status).toBe(404)
    expect(answer.text).toContain('no-such-hold')
  })
})

describe('KeptPlans', () => {
  const planner = () => {
    const asked: string[] = []
    const plan = async (of: System, hold: string) => {
      asked.push(hold)
      return asked.length === 1 && hold === 'rig-10psi'
        ? Promise.reject(new Error('stopped'))
        : planHold(of, hold)
    }
    return { asked, plans: new KeptPlans({ plan }) }
  }
  it('of asks once for the same system and hold, and again for a changed system', async () => {
    const { asked, plans } = planner()
    const [one, two] = await Promise.all([
      plans.of(system, 'feed-lines-10psi'),
      plans.of(system, 'feed-lines-10psi'),
    ])
    expect(two).toBe(one)
    expect(asked).toHaveLength(1)
    await plans.of({ ...system }, 'feed-lines-10psi')
    expect(asked).toHaveLength(2)
  })
  it('of asks again after a failure, and never for a hold that is not there', async () => {
    const { asked, plans } = planner()
    await expect(plans.of(system, 'rig-10psi')).rejects.toThrow('stopped')
    expect((await plans.of(system, 'rig-10psi'))?.hold).toBe('rig-10psi')
    expect(await plans.of(system, 'none')).toBeNull()
    expect(asked).toEqual(['rig-10psi', 'rig-10psi'])
  })
})
