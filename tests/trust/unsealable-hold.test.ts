import { existsSync, mkdirSync, readdirSync, readFileSync, rmSync } from 'node:fs'
import { join } from 'node:path'
import { expect, it } from 'vitest'
import { DemoBench } from '#ingest/sources/demo-bench.ts'
import { systemFromFile } from '#ingest/system-file/read-system-file.ts'
import { benchFolder, openBench } from '#tests/dashboard/server/open-bench.ts'
import { until } from '#tests/dashboard/server/until.ts'

const order = { hold: 'rig-10psi', operator: null, witness: null, stateSheet: [], retests: null }

it('a recording that cannot be analyzed is set aside, and the bench takes the next hold', async () => {
  const at = benchFolder()
  const system = systemFromFile(readFileSync(at.systemPath, 'utf8'), 'aircraft.yaml')
  const demo = new DemoBench({ system, speed: 1e-9, seed: 3, leaking: {} })
  const bench = await openBench(at, { ports: [{ port: demo }], demo, demoOperator: false })
  demo.advance(25)
  bench.session.startHold(order)
  demo.advance(10)
  const session = join(at.folder, 'data', 'session')
  rmSync(join(session, bench.session.state().recording!))
  bench.session.enterStage('vent')
  // The hold ends by itself once the pressure has been off for a while.
  demo.advance(30)
  await until(() => !bench.session.controller.sealing, 100)
  expect(bench.said.at(-1)).toContain('cannot be analyzed')
  expect(readdirSync(session).filter((name) => name.startsWith('unsealed-'))).toHaveLength(1)
  expect(existsSync(join(session, 'running-hold.json'))).toBe(false)
  demo.advance(10)
  bench.session.startHold(order)
  expect(bench.session.state().hold?.hold).toBe('rig-10psi')
  expect(bench.archive.list()).toEqual([])
  await bench.stop()
  at.remove()
})

it('what cannot even be set aside, as on a full disk, is an alarm and is tried again until it can', async () => {
  const at = benchFolder()
  const system = systemFromFile(readFileSync(at.systemPath, 'utf8'), 'aircraft.yaml')
  const demo = new DemoBench({ system, speed: 1e-9, seed: 3, leaking: {} })
  const bench = await openBench(at, { ports: [{ port: demo }], demo, demoOperator: false })
  demo.advance(25)
  bench.session.startHold(order)
  demo.advance(10)
  const session = join(at.folder, 'data', 'session')
  const name = bench.session.state().recording!
  rmSync(join(session, name))
  // A folder of that name refuses the note as a full disk would.
  const inTheWay = join(session, `unsealed-${name}.json`)
  mkdirSync(join(inTheWay, 'full'), { recursive: true })
  bench.session.enterStage('end')
  await until(
    () => bench.session.controller.sealer.trouble?.includes('nor can it be set aside') === true,
    200,
  )
  expect(bench.session.state().alarms).toContainEqual(expect.objectContaining({ code: 'not-sealed' }))
  expect(existsSync(join(session, 'running-hold.json'))).toBe(true)
  rmSync(inTheWay, { recursive: true })
  await until(() => !bench.session.controller.sealing, 200)
  expect(existsSync(inTheWay)).toBe(true)
  expect(existsSync(join(session, 'running-hold.json'))).toBe(false)
  expect(bench.session.state().alarms).not.toContainEqual(expect.objectContaining({ code: 'not-sealed' }))
  await bench.stop()
  at.remove()
})
