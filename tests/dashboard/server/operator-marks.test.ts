import { readdirSync, readFileSync } from 'node:fs'
import { join } from 'node:path'
import { afterAll, beforeAll, describe, expect, it } from 'vitest'
import type { Ledger } from '#analysis/hunt/ledger.ts'
import type { LiveState } from '#dashboard/api.ts'
import type { RunningBench } from '#dashboard/server/start-bench.ts'
import { curingBars } from '#dashboard/wet/work-archive.ts'
import { DemoBench } from '#ingest/sources/demo-bench.ts'
import { systemFromFile } from '#ingest/system-file/read-system-file.ts'
import { type Asked, ask, send } from './ask.ts'
import { benchFolder, openBench } from './open-bench.ts'
import { until } from './until.ts'

const at = benchFolder()
const system = systemFromFile(readFileSync(at.systemPath, 'utf8'), 'aircraft.yaml')
let bench: RunningBench
let demo: DemoBench

beforeAll(async () => {
  demo = new DemoBench({ system, speed: 2, seed: 5, leaking: {} })
  bench = await openBench(at, { ports: [{ port: demo }], demo, demoOperator: false })
  demo.advance(120)
})
afterAll(async () => {
  await bench.stop()
  at.remove()
})

const mark = (body: object): Promise<Asked> => send(bench.server.port, '/api/mark', body)
const marksOf = (answer: Asked) => (answer.json() as unknown as LiveState).marks
const work = { kind: 'work', id: 'F23', fields: { action: 'retighten', torque_Nm: 14.1, by: 'O. P.' } }
const lastWork = async () => {
  const answer = await ask(bench.server.port, { path: '/api/ledger' })
  return (answer.json() as unknown as Ledger).fittings.find(({ id }) => id === 'F23')?.last_work ?? null
}

describe('POST /api/mark', () => {
  it('seals work between holds with torque and name; a correction is a record that names it, and the ledger forgets it', async () => {
    const made = marksOf(await mark(work)).at(-1)!
    expect(made).toMatchObject({ kind: 'work', id: 'F23', text: 'retighten, 14.1 N·m' })
    const [sealed] = bench.archive.list({ kind: 'work' })
    expect(bench.archive.get(sealed.id).result).toMatchObject({
      torque_Nm: 14.1,
      by: 'O. P.',
      time_ns: made.ns,
    })
    expect((await lastWork())?.action).toBe('retighten')

    const after = marksOf(await mark({ kind: 'correction', id: 'F23', fields: { of: made.ns } }))
    expect(after.map(({ ns }) => ns)).not.toContain(made.ns)
    expect(bench.archive.list({ kind: 'correction' })).toMatchObject([
      { corrects: sealed.id, subject: 'F23' },
    ])
    expect(await lastWork()).toBeNull()
    // Nothing is erased: the recording has both.
    const folder = join(at.folder, 'data', 'session')
    const text = await until(async () => {
      const files = readdirSync(folder).filter((name) => name.endsWith('.lp'))
      const written = files.map((name) => readFileSync(join(folder, name), 'utf8')).join('')
      return written.includes('kind=correction') ? written : null
    })
    expect(text).toContain(`mark,kind=work,from=operator,id=F23`)
    expect(text).toMatch(new RegExp(`mark,kind=correction,from=operator,id=F23 of="${made.ns}" \\d+`))
  })

  it('seals a look at a whole section under that section', async () => {
    await mark({ kind: 'look', id: 'left-tank', fields: { finding: 'dry' } })
    expect(bench.archive.list({ kind: 'look', section: 'left-tank' })).toMatchObject([
      { subject: 'left-tank' },
    ])
  })

  it('bars a hold while the sealant of marked work cures, until the mark is taken back; refuses a cure time nobody can read', async () => {
    const section = system.fittings.find(({ id }) => id === 'F23')!.section
    const barred = () => curingBars(bench.archive, [section], BigInt(Date.now()) * 1_000_000n)
    const sealed = (cure: string) => ({ ...work, fields: { action: 'reseal', cure, by: 'O. P.' } })
    const refused = await mark(sealed('soon'))
    expect(refused.status).toBe(400)
    expect(refused.text).toContain('write a time with its unit, such as 24 h')
    expect(barred()).toBeNull()
    const made = marksOf(await mark(sealed('24 h'))).at(-1)!
    // The demo's clock runs ahead of ours by minutes.
    expect(barred()).toMatch(/^The sealant of F23 cures for another 2[45] h: no hold before\.$/)
    await mark({ kind: 'correction', id: 'F23', fields: { of: made.ns } })
    expect(barred()).toBeNull()
  })

  it('takes a mark that a phone sends twice once, and puts it at the time at which it was made', async () => {
    const note = { kind: 'note', fields: { text: 'kept on a phone' }, key: 'k'.repeat(24), agoS: 30 }
    const first = marksOf(await mark(note))
    const again = marksOf(await mark(note))
    const nowS = bench.session.nowS!
    const kept = again.filter(({ text }) => text === 'kept on a phone')
    expect([kept.length, first.length]).toEqual([1, again.length])
    // This bench runs twice as fast as the clock: 30 s of ours are 60 s of the bench.
    expect(nowS - kept[0].timeS).toBeGreaterThanOrEqual(60)
    expect(nowS - kept[0].timeS).toBeLessThan(90)
  })

  it('gives two marks of one moment times of their own', async () => {
    await mark({ kind: 'note', fields: { text: 'one' } })
    const times = marksOf(await mark({ kind: 'note', fields: { text: 'two' } })).map(({ ns }) => ns)
    expect(new Set(times).size).toBe(times.length)
  })

  it('refuses to take back what it does not know, and a key or an age that makes no sense, in one sentence', async () => {
    expect(await mark({ kind: 'correction', fields: { of: '1' } })).toMatchObject({ status: 404 })
    expect((await mark({ ...work, agoS: -1 })).json().error).toMatch(/agoS is in the future/)
    expect((await mark({ ...work, key: 'x' })).json().error).toMatch(/key is no key/)
  })
})
