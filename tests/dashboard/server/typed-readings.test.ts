import { spawn } from 'node:child_process'
import { mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { afterAll, beforeAll, describe, expect, it } from 'vitest'
import type { RunningBench } from '#dashboard/server/start-bench.ts'
import { firstSystemFile, layouts } from '#ingest/system-file/layouts.ts'
import { readSystemFile } from '#ingest/system-file/read-system-file.ts'
import { builtProgram } from '#tests/built-program.ts'
import { openBench } from './open-bench.ts'

let folder: string
let bench: RunningBench

beforeAll(async () => {
  folder = mkdtempSync(join(tmpdir(), 'typed-'))
  const systemPath = join(folder, 'aircraft.yaml')
  writeFileSync(systemPath, firstSystemFile(layouts[0], 'dial only', 'dial'))
  bench = await openBench({ folder, systemPath })
})
afterAll(async () => {
  await bench.stop()
  rmSync(folder, { recursive: true, force: true })
})

const post = async (path: string, body: unknown) => {
  const answer = await fetch(bench.server.url + path, {
    method: 'POST',
    headers: { 'content-type': 'application/json', origin: bench.server.url },
    body: JSON.stringify(body),
  })
  return { status: answer.status, body: (await answer.json()) as { error?: string } }
}
const checks = () =>
  Object.fromEntries(
    bench.session
      .checks('feed-lines-hold')
      .filter(({ channel }) => channel.endsWith('@feed-lines'))
      .map(({ channel, state, place }) => [channel, place ? `${state}, place` : state]),
  )

describe('POST /api/typed', () => {
  it('takes a reading by eye in the channel’s unit: recorded with origin typed, live on the section the gauge is marked on', async () => {
    expect(checks()).toEqual({
      'gauge@feed-lines': 'blocks, place',
      'thermometer@feed-lines': 'notice, place',
    })
    // Before any reading the bench has no time: the mark of where the gauge is takes this computer's.
    expect(
      (await post('/api/mark', { kind: 'place', id: 'gauge', fields: { section: 'feed-lines' } })).status,
    ).toBe(200)
    expect((await post('/api/typed', { readings: { 'gauge@feed-lines': 0.5 } })).status).toBe(200)
    expect(checks()['gauge@feed-lines']).toBe('notice')
    const { newest, recording } = bench.session.state()
    // 0.5 psi is 3447.38 Pa (NIST SP 811).
    expect(newest['gauge@feed-lines']?.reading).toBeCloseTo(3447.38, 2)
    expect(newest['gauge@left-tank']).toBeUndefined()
    const text = readFileSync(join(folder, 'data', 'session', recording!), 'utf8')
    expect(text).toMatch(/^typed gauge=0\.5 \d+$/m)
    expect(text).toMatch(/^mark,kind=origin,id=gauge source="typed" \d+$/m)
  })

  it('a zero and a calibration of a gauge that is moved are those of the gauge, at whichever place the page shows it', async () => {
    const zero = { kind: 'zero', id: 'gauge@feed-lines', fields: { reading: 100, true: 0 } }
    expect((await post('/api/mark', zero)).status).toBe(200)
    expect(bench.session.state().marks.findLast(({ kind }) => kind === 'zero')?.id).toBe('gauge')
    const answer = await fetch(`${bench.server.url}/api/system/edits`, {
      method: 'PUT',
      headers: { 'content-type': 'application/json', origin: bench.server.url },
      body: JSON.stringify({
        edits: [
          {
            list: 'channels',
            id: 'gauge',
            keys: { calibration: { date: '2026-03-02', points: [['0 psi', '0.1 psi']] } },
          },
        ],
      }),
    })
    expect(answer.status).toBe(200)
    const calibrated = bench.session.systemFile.system?.channels.filter(
      ({ calibration }) => calibration !== null,
    )
    expect(calibrated?.map(({ movable }) => movable?.id)).toEqual(['gauge', 'gauge', 'gauge', 'gauge'])
  })

  it('refuses a channel that is not typed, no reading at all, and a place that the file does not have', async () => {
    expect((await post('/api/typed', { readings: { p1: 1 } })).status).toBe(404)
    expect((await post('/api/typed', { readings: {} })).status).toBe(400)
    const wrong = await post('/api/mark', { kind: 'place', id: 'gauge', fields: { section: 'nose' } })
    expect([wrong.status, wrong.body.error]).toEqual([404, expect.stringContaining('no place nose for it')])
  })
})

describe('stillhold serve without a system file', () => {
  it('writes a first one beside the archive, for a dial gauge, and serves it', async () => {
    const data = join(folder, 'own')
    const program = await builtProgram()
    const child = spawn(process.execPath, [program, 'serve', '--data', data, '--listen', '127.0.0.1:0'], {
      cwd: folder.replace(/$/, '/data'),
    })
    try {
      const url = await new Promise<string>((done, fail) => {
        child.stdout.once('data', (chunk) => done(String(chunk).trim()))
        child.once('exit', (code) => fail(new Error(`ended with ${code}`)))
      })
      const { system } = (await (await fetch(`${url}/api/system`)).json()) as { system: { name: string } }
      expect(system.name).toBe('my aircraft')
      expect(readSystemFile(readFileSync(join(data, 'aircraft.yaml'), 'utf8'), 'x').errors).toEqual([])
    } finally {
      child.kill()
    }
  }, 60_000)
})
