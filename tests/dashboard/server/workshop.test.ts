import { copyFileSync, existsSync, mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { afterAll, beforeAll, describe, expect, it } from 'vitest'
import type { LiveState } from '#dashboard/api.ts'
import { type RunningBench, startBench } from '#dashboard/server/start-bench.ts'
import { aircraftIn, Workshop } from '#dashboard/server/workshop.ts'
import { DemoBench } from '#ingest/sources/demo-bench.ts'
import { systemFromFile } from '#ingest/system-file/read-system-file.ts'
import { ask, send } from './ask.ts'
import { until } from './until.ts'

const folder = mkdtempSync(join(tmpdir(), 'stillhold-workshop-'))
const demoFile = new URL('../../../recordings/floatplane.yaml', import.meta.url)
const text = readFileSync(demoFile, 'utf8')
const named = (name: string) => text.replace(/^name: .*$/m, `name: ${name}`)
writeFileSync(join(folder, 'amber.yaml'), named('the amber one'))
writeFileSync(join(folder, 'blue.yaml'), named('the blue one'))
writeFileSync(join(folder, 'cream.yaml'), named('the cream one'))
writeFileSync(join(folder, 'broken.yaml'), 'stillhold: 1\nname: x\nsectoins: []\n')
copyFileSync(demoFile, join(folder, 'notes.txt'))

/** Aircraft have simulated benches, so that there is something to hold; the gauge of one writes over HTTP. */
const benches = new Map<string, DemoBench>()
const workshop = () =>
  new Workshop(aircraftIn(folder), ({ id, systemPath, dataFolder }) => {
    const system = systemFromFile(readFileSync(systemPath, 'utf8'), systemPath)
    if (id === 'cream') return { aircraft: id, systemPath, dataFolder, ports: [], demo: null }
    const demo = new DemoBench({ system, speed: 2, seed: 5, leaking: {} })
    benches.set(id, demo)
    return { aircraft: id, systemPath, dataFolder, ports: [{ port: demo }], demo }
  })
let bench: RunningBench
async function start(): Promise<void> {
  const all = workshop()
  bench = await startBench({
    ...all.benchOf(all.chosen),
    workshop: all,
    demoOperator: false,
    writeToken: 'a-token',
    listen: { host: '127.0.0.1', port: 0 },
    version: '0.0.0-test',
  })
  benches.get(all.chosen.id)!.advance(60)
  await until(async () => (await state()).nowS !== null)
}
beforeAll(start)
afterAll(async () => {
  await bench.stop()
  rmSync(folder, { recursive: true, force: true })
})

const choose = (id: string) =>
  ask(bench.server.port, {
    method: 'POST',
    path: '/aircraft',
    body: `id=${id}`,
    headers: { 'content-type': 'application/x-www-form-urlencoded' },
  })
const state = async () =>
  (await ask(bench.server.port, { path: '/api/state' })).json() as unknown as LiveState
const records = async () =>
  (await ask(bench.server.port, { path: '/api/records' })).json() as unknown as { kind: string }[]
const work = { kind: 'work', id: 'F23', fields: { action: 'retighten', by: 'O. P.' } }

describe('several aircraft in one workshop', () => {
  it('aircraftIn(folder) takes each system file with the folder of its archive, and refuses a folder without one', () => {
    expect(aircraftIn(folder).map(({ id, dataFolder }) => [id, dataFolder])).toEqual(
      ['amber', 'blue', 'broken', 'cream'].map((id) => [id, join(folder, id)]),
    )
    expect(() => aircraftIn(join(folder, 'nowhere'))).toThrow('has no system file')
  })

  it('GET /aircraft lists them: the one at the bench, one to choose, and one whose file is wrong, with the line', async () => {
    const { status, text: page } = await ask(bench.server.port, { path: '/aircraft' })
    expect([status, (await state()).aircraft]).toEqual([200, 'amber'])
    expect(page).toMatch(/the amber one<\/strong> \(amber\): at the bench now/)
    expect(page).toContain('Bring the blue one (blue) to the bench')
    expect(page).toMatch(/broken\.yaml, line \d+: .*Correct the file first/)
    expect(page).not.toContain('value="broken"')
  })

  it('POST /aircraft refuses a form that another site sends', async () => {
    const foreign = await ask(bench.server.port, {
      method: 'POST',
      path: '/aircraft',
      body: 'id=blue',
      headers: { origin: 'http://elsewhere.example', 'content-type': 'application/x-www-form-urlencoded' },
    })
    expect([foreign.status, (await state()).aircraft]).toEqual([403, 'amber'])
  })

  it('POST /aircraft brings another one to the same address, with an archive of its own', async () => {
    await send(bench.server.port, '/api/mark', work)
    expect(await records()).toHaveLength(1)
    const moved = await choose('blue')
    expect([moved.status, moved.headers.location]).toEqual([303, '/'])
    expect((await state()).systemName).toBe('the blue one')
    expect(await records()).toEqual([])
    expect(existsSync(join(folder, 'blue', 'records'))).toBe(true)
    expect((await choose('amber')).status).toBe(303)
    expect((await records()).map(({ kind }) => kind)).toEqual(['work'])
  })

  it('POST /aircraft refuses a broken file and an unknown name in one sentence, and the one at the bench stays', async () => {
    for (const [id, word] of [
      ['broken', 'Correct the file first'],
      ['green', 'There is no aircraft green'],
    ]) {
      const refused = await choose(id)
      expect([refused.status, refused.text]).toEqual([409, expect.stringContaining(word)])
    }
    expect((await state()).aircraft).toBe('amber')
  })

  it('POST /api/mark keeps a mark of another aircraft from the ledger: 503, so that the phone keeps it until its turn', async () => {
    const late = await send(bench.server.port, '/api/mark', { ...work, aircraft: 'blue' })
    expect([late.status, late.text]).toEqual([503, expect.stringContaining('for blue, but amber')])
    expect(await records()).toHaveLength(1)
    benches.get('amber')!.advance(1)
    expect(await until(async () => (await state()).nowS !== null)).toBe(true)
    expect((await send(bench.server.port, '/api/mark', { ...work, aircraft: 'amber' })).status).toBe(200)
    expect(await records()).toHaveLength(2)
  })

  it('POST of points is told 503 and what to do while the simulated bench is chosen, and kept at the aircraft of the logger', async () => {
    const write = (token: string) =>
      ask(bench.server.port, {
        method: 'POST',
        path: '/api/v2/write',
        headers: { authorization: `Token ${token}` },
        body: 'logger,port=a p1=0.01 1767225600000000000',
      })
    const refused = await write('a-token')
    expect([refused.status, refused.text, refused.headers['retry-after']]).toEqual([
      503,
      expect.stringContaining('choose the aircraft of this logger at /aircraft'),
      '5',
    ])
    expect((await write('another')).status).toBe(401)
    expect(await (await ask(bench.server.port, { path: '/api/ports' })).json()).toHaveLength(1)

    expect((await choose('cream')).status).toBe(303)
    const mark = { ...work, aircraft: 'cream', agoS: 30 }
    const early = await send(bench.server.port, '/api/mark', mark)
    expect([early.status, early.text]).toEqual([503, expect.stringContaining('connect the logger first')])
    expect((await write('a-token')).status).toBe(204)
    expect((await send(bench.server.port, '/api/mark', mark)).status).toBe(200)
    expect(await records()).toHaveLength(1)
  })

  it('POST /aircraft refuses while a hold runs; after a restart that aircraft is at the bench first, with its hold', async () => {
    expect((await choose('blue')).status).toBe(303)
    benches.get('blue')!.advance(30)
    expect(await until(async () => (await state()).nowS !== null)).toBe(true)
    bench.session.startHold({
      hold: 'rig-10psi',
      operator: null,
      witness: null,
      stateSheet: [],
      retests: null,
    })
    const refused = await choose('amber')
    expect([refused.status, refused.text]).toEqual([
      409,
      expect.stringContaining('A hold of blue is running'),
    ])
    await bench.stop()
    await start()
    expect(await until(async () => (await state()).aircraft === 'blue')).toBe(true)
    // It goes on, or is sealed as broken off where the logger came back too late: in its own archive.
    const isThere = async () =>
      (await state()).hold?.hold === 'rig-10psi' || (await records()).some(({ kind }) => kind === 'hold')
    expect(await until(isThere)).toBe(true)
  })
})
